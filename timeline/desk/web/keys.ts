// The keyboard. Keys typed into a field are words, and a dialog has its own.

export interface Key {
  keys: string[]; // as the browser names them
  shown: string; // as the sheet shows them
  does: string;
  first?(): boolean; // whether it means this even where a button is in focus
  run(): void;
}

const written = "textarea, [contenteditable], input:not([type=range], [type=checkbox], [type=radio], [type=file], [type=button])";

// What Tab led to, while the focus is still there. What is clicked has the focus too, and
// what a key of ours led to; there Space goes on meaning play. (:focus-visible does not
// tell: it holds of anything once a key was pressed.)
let reached: HTMLElement | null = null;
const reach = (e: HTMLElement | null) => {
  reached = e;
  document.body.classList.toggle("by-tab", e !== null);
};

// Who dictates, or types by accident, turns the keys of one character off (WCAG 2.1.4).
const place = "sidetone.letters";
const quiet = (e: KeyboardEvent): boolean => e.key.length === 1 && e.key !== " " && !e.ctrlKey && localStorage.getItem(place) === "off";

export function letters(box: HTMLInputElement): void {
  box.checked = localStorage.getItem(place) !== "off";
  box.addEventListener("change", () => localStorage.setItem(place, box.checked ? "on" : "off"));
}

export function bindKeys(list: Key[]): void {
  let tab = false;
  let taken = "";
  const touched = () => reach(null);
  document.addEventListener("pointerdown", touched, true);
  document.addEventListener("close", touched, true); // of a dialog: what was pressed for it is done
  document.addEventListener("focusin", (e) => {
    const to = e.target as HTMLElement;
    const redrawn = reached?.dataset.keep !== undefined && to.dataset.keep === reached.dataset.keep;
    reach(tab || redrawn ? to : null);
  });
  document.addEventListener("keydown", (e) => {
    taken = "";
    tab = e.key === "Tab";
    if (e.altKey || e.metaKey || (e.ctrlKey && e.key !== "z")) return;
    let at = e.target as HTMLElement;
    if (at.closest("dialog:not([open])")) at = document.body; // the focus leaves a closed one a frame later
    if (quiet(e) || at.closest("dialog[open]") || at.closest(written)) return;
    const name = e.ctrlKey ? "Ctrl+" + e.key : e.key;
    const key = list.find((k) => k.keys.includes(name));
    if (!key) return;
    if (!key.first?.()) {
      if (e.key === "Enter" && at.closest("button, a, summary, input, select")) return;
      if (e.key === " " && at === reached && at.closest("button, summary, input:not([type=range]), select")) return;
      if (at.closest("select") && at === reached) return; // it chooses by letters and arrows
      if (at.closest("[role=tablist], input[type=range]") && e.key.startsWith("Arrow")) return;
    }
    e.preventDefault();
    taken = e.key;
    if (e.repeat && e.key === " ") return;
    setTimeout(() => key.run(), 20); // the letter that opens a form must not be typed into it
  });
  // Some browsers press a button by what follows the key going down, whatever became of that.
  for (const what of ["keypress", "keyup"] as const)
    document.addEventListener(what, (e) => {
      if (e.key === taken) e.preventDefault();
    });
}
