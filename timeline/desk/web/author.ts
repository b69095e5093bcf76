// Who is writing. Asked once, kept in this browser.
import { byId } from "./dom";

const place = "sidetone.author";

export const author = (): string => localStorage.getItem(place) ?? "";

export function showAuthor(): void {
  byId("author-name").textContent = author() || "nobody yet";
}

/** The name of who is writing, asked for when it is not known; "" when the question was dismissed. */
export function askAuthor(again = false): Promise<string> {
  if (author() && !again) return Promise.resolve(author());
  const dialog = byId<HTMLDialogElement>("who");
  const field = byId<HTMLInputElement>("who-name");
  field.value = author();
  dialog.returnValue = "";
  dialog.showModal();
  return new Promise((resolve) => {
    dialog.addEventListener(
      "close",
      () => {
        const name = field.value.trim();
        const given = dialog.returnValue === "ok" && name !== "";
        if (given) localStorage.setItem(place, name);
        showAuthor();
        resolve(given ? name : "");
      },
      { once: true },
    );
  });
}
