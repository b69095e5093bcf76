// The small forms an instructor fills in. Each is a dialog of the template.
import { byId } from "./dom";

/** Opens a dialog of the template; gives its fields by name, or null when it was left without saving. */
export function ask(id: string, values: Record<string, string> = {}, heading = ""): Promise<Record<string, string> | null> {
  const dialog = byId<HTMLDialogElement>(id);
  const form = dialog.querySelector("form")!;
  form.reset();
  for (const [name, value] of Object.entries(values)) {
    const field = form.elements.namedItem(name);
    if (field instanceof HTMLInputElement || field instanceof HTMLTextAreaElement || field instanceof HTMLSelectElement) field.value = value;
  }
  if (heading) dialog.querySelector(".about")!.textContent = heading;
  const forget = remember(id, form);
  const back = document.activeElement;
  const keep = back instanceof HTMLElement ? back.dataset.keep : undefined;
  dialog.returnValue = "";
  dialog.showModal();
  return new Promise((resolve) => {
    dialog.addEventListener(
      "close",
      () => {
        forget();
        if (keep) document.querySelector<HTMLElement>(`[data-keep="${CSS.escape(keep)}"]`)?.focus();
        if (dialog.returnValue !== "ok") return resolve(null);
        resolve(Object.fromEntries([...new FormData(form)].map(([k, v]) => [k, String(v).trim()])));
      },
      { once: true },
    );
  });
}

/** "1:35", "1:02:03" or "95.4" in seconds; NaN for anything else. */
export function seconds(text: string): number {
  const parts = text.split(":").map((p) => (p.trim() === "" ? NaN : Number(p)));
  return parts.reduce((sum, p) => sum * 60 + p, 0);
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
