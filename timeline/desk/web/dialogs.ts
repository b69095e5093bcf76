// The small forms an instructor fills in. Each is a dialog of the template.
import { byId, h, reasonOf } from "./dom";

export type Given = Record<string, string>;

/** What is wrong with a field of a form, in a sentence; without a name, with all of it.
 * Instead are answers that would do. */
export class Wrong extends Error {
  constructor(
    text: string,
    readonly field = "",
    readonly instead: string[] = [],
  ) {
    super(text);
  }
}

/** Opens a dialog of the template with values in its fields, by name. What was filled in
 * is given to save; where that throws, the dialog stays open with all that was written
 * and says why beside the field. Says in the end whether it was saved. */
export function ask(id: string, values: Given, save: (given: Given) => Promise<void>, heading = ""): Promise<boolean> {
  const dialog = byId<HTMLDialogElement>(id);
  const form = dialog.querySelector("form")!;
  form.reset();
  for (const [name, value] of Object.entries(values)) {
    const field = form.elements.namedItem(name);
    if (isField(field)) field.value = value;
  }
  if (heading) dialog.querySelector(".about")!.textContent = heading;
  const forget = remember(id, form);
  const keep = document.activeElement instanceof HTMLElement ? document.activeElement.dataset.keep : undefined;
  const ok = form.querySelector<HTMLButtonElement>('button[value="ok"]')!;
  clear(form);
  const submit = async (e: SubmitEvent) => {
    if (e.submitter instanceof HTMLButtonElement && e.submitter.value !== "ok") return;
    e.preventDefault();
    if (ok.disabled) return;
    clear(form);
    ok.disabled = true;
    try {
      await save(Object.fromEntries([...new FormData(form)].map(([k, v]) => [k, String(v).trim()])));
      dialog.close("ok");
    } catch (why) {
      complain(form, why);
    } finally {
      ok.disabled = false;
    }
  };
  const keys = (e: KeyboardEvent) => {
    if (e.key !== "Enter" || !(e.ctrlKey || e.metaKey)) return;
    e.preventDefault();
    form.requestSubmit(ok);
  };
  form.addEventListener("submit", submit);
  form.addEventListener("keydown", keys);
  dialog.returnValue = "";
  dialog.showModal();
  return new Promise((resolve) => {
    dialog.addEventListener(
      "close",
      () => {
        form.removeEventListener("submit", submit);
        form.removeEventListener("keydown", keys);
        forget();
        if (keep) document.querySelector<HTMLElement>(`[data-keep="${CSS.escape(keep)}"]`)?.focus();
        resolve(dialog.returnValue === "ok");
      },
      { once: true },
    );
  });
}

type Field = HTMLInputElement | HTMLTextAreaElement | HTMLSelectElement;
const isField = (e: unknown): e is Field => e instanceof HTMLInputElement || e instanceof HTMLTextAreaElement || e instanceof HTMLSelectElement;

/** Says why a form was not taken, beside the field that is wrong. */
function complain(form: HTMLFormElement, why: unknown): void {
  const text = reasonOf(why);
  const wrong = why instanceof Wrong ? why : null;
  const named = wrong?.field ? form.elements.namedItem(wrong.field) : null;
  const field = isField(named) ? named : null;
  const says = h("p", { class: "wrong", id: `${form.parentElement!.id}-wrong`, role: "alert" }, text, wrong?.instead.map((v) => [" ", h("button", { type: "button", class: "small", onclick: () => {
    if (field) field.value = v;
    clear(form);
    field?.focus();
  } }, v)]));
  if (!field) {
    form.querySelector(".buttons")!.before(says);
    return;
  }
  (field.closest("p") ?? field).after(says);
  field.setAttribute("aria-invalid", "true");
  field.setAttribute("aria-describedby", says.id);
  field.focus();
}

function clear(form: HTMLFormElement): void {
  for (const e of form.querySelectorAll(".wrong")) e.remove();
  for (const e of form.querySelectorAll("[aria-invalid]")) {
    e.removeAttribute("aria-invalid");
    e.removeAttribute("aria-describedby");
  }
}

/** "1:35", "1:02:03" or "95.4" in seconds; NaN for anything else. */
export function seconds(text: string): number {
  const parts = /^(?:(?:(\d+):)?(\d+):)?(\d+(?:\.\d*)?)$/.exec(text.trim());
  if (!parts) return NaN;
  const [hours, minutes, rest] = [parts[1], parts[2], parts[3]].map((p) => Number(p ?? 0)) as [number, number, number];
  if ((parts[2] !== undefined && rest >= 60) || (parts[1] !== undefined && minutes >= 60)) return NaN;
  return hours * 3600 + minutes * 60 + rest;
}

/** Keeps what is being written in a form until it is saved or left, so that it is there
 * again when the tab died or was loaded anew in between (another tab has its own);
 * gives what forgets it. */
function remember(id: string, form: HTMLFormElement): () => void {
  const key = `sidetone-begun ${location.pathname} ${id}`;
  const texts = [...form.querySelectorAll("textarea")];
  const hint = form.querySelector<HTMLElement>(".begun");
  if (hint) hint.hidden = true;
  const begun = sessionStorage.getItem(key);
  if (begun !== null && texts[0]) {
    texts[0].value = begun;
    if (hint) hint.hidden = false;
  }
  const keep = () => {
    try {
      if (texts[0]) sessionStorage.setItem(key, texts[0].value);
    } catch {
      // A full or forbidden store: the text is still in the form.
    }
  };
  form.addEventListener("input", keep);
  return () => {
    form.removeEventListener("input", keep);
    sessionStorage.removeItem(key);
  };
}
