// Who is writing, in this tab: two people may each have one open. The name used last in
// this browser is what a new tab begins with; after that nobody else changes it.
import { byId } from "./dom";

const place = "sidetone.author";

if (sessionStorage.getItem(place) === null) {
  const last = localStorage.getItem(place);
  if (last) sessionStorage.setItem(place, last);
}

export const author = (): string => sessionStorage.getItem(place) ?? "";

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
        if (given) {
          sessionStorage.setItem(place, name);
          localStorage.setItem(place, name);
        }
        showAuthor();
        resolve(given ? name : "");
      },
      { once: true },
    );
  });
}
