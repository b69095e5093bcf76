// The library: recordings are dropped on it, and lessons appear as they are heard.
import { byId, h, reasonOf, redraw, say } from "./dom";
import { removeLesson } from "./remove";
import { post } from "./server";

const list = () => byId("lessons");

/** Takes the list anew from the server: it is drawn there. */
async function refresh(): Promise<void> {
  const answer = await fetch(location.href);
  if (!answer.ok) return;
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const fresh = page.getElementById("lessons");
  const back = document.activeElement instanceof HTMLAnchorElement ? document.activeElement.getAttribute("href") : null;
  if (fresh) list().replaceWith(document.importNode(fresh, true));
  if (back) list().querySelector<HTMLElement>(`a[href="${CSS.escape(back)}"]`)?.focus();
}

async function add(files: Iterable<File>): Promise<void> {
  for (const file of files) {
    const form = new FormData();
    form.append("recording", file, file.name);
    const line = h("p", {}, `Taking in ${file.name} …`);
    byId("taking-in").append(line);
    say(`Taking in ${file.name}`);
    try {
      const answer = await post(file.name.toLowerCase().endsWith(".json") ? "/lessons/import" : "/lessons", form);
      const made = (await answer.json()) as { id: string; known?: boolean };
      if (made.known) redraw(line, `${file.name} is already here: `, h("a", { href: `/lessons/${made.id}` }, "open its lesson"), ". ", h("button", { type: "button", class: "small", onclick: () => line.remove() }, "Close"));
      else line.remove();
      await refresh();
    } catch (e) {
      redraw(line, `${file.name} was not taken in: ${reasonOf(e).replace(/\.$/, "")}. `, h("button", { type: "button", class: "small", onclick: () => line.remove() }, "Close"));
    }
  }
}

const drop = byId("drop");
let inside = 0;
document.addEventListener("dragenter", () => drop.classList.toggle("over", ++inside > 0));
document.addEventListener("dragleave", () => drop.classList.toggle("over", --inside > 0));
document.addEventListener("dragover", (e) => e.preventDefault());
document.addEventListener("drop", (e) => {
  e.preventDefault();
  inside = 0;
  drop.classList.remove("over");
  void add(e.dataTransfer?.files ?? []);
});
const field = byId<HTMLInputElement>("recording");
field.addEventListener("change", () => {
  void add([...(field.files ?? [])]);
  field.value = "";
});

document.addEventListener("click", (e) => {
  const id = (e.target as HTMLElement).closest<HTMLElement>("[data-remove]")?.dataset.remove;
  if (!id) return;
  removeLesson(id)
    .then((removed) => (removed ? refresh() : undefined))
    .catch((why: unknown) => byId("taking-in").append(h("p", {}, `The lesson was not removed: ${reasonOf(why)}`)));
});

const events = new EventSource("/events");
events.addEventListener("library", () => void refresh());
events.addEventListener("lesson", () => void refresh());
events.addEventListener("progress", (e) => {
  const p = JSON.parse((e as MessageEvent<string>).data) as { id: string; stage: string; done: number; of: number };
  const row = list().querySelector(`[data-lesson="${CSS.escape(String(p.id))}"] .result`);
  if (!row) return;
  const share = p.of > 0 ? ` ${Math.round((100 * p.done) / p.of)} %` : "";
  redraw(row as HTMLElement, `Being listened to: ${p.stage}${share} `, h("progress", { max: p.of || null, value: p.of ? p.done : null, "aria-label": "How far" }));
});
window.addEventListener("pagehide", () => events.close());
