// The keyboard. Keys typed into a field are words, and a dialog has its own.

export interface Key {
  keys: string[]; // as the browser names them
  shown: string; // as the sheet shows them
  does: string;
  first?(): boolean; // whether it means this even where a button is in focus
  run(): void;
}

const written = "textarea, [contenteditable], input:not([type=range], [type=checkbox], [type=radio], [type=file], [type=button])";

// Whether the focus stands where Tab put it. What is clicked has the focus too, and what
// a key of ours led to; there Space goes on meaning play. (:focus-visible does not tell:
// it holds of anything once a key was pressed.)
let byTab = false;
const tabbed = (on: boolean) => {
  byTab = on;
  document.body.classList.toggle("by-tab", on);
};

export function bindKeys(list: Key[]): void {
  document.addEventListener("pointerdown", () => tabbed(false), true);
  document.addEventListener("close", () => tabbed(false), true); // of a dialog: what was pressed for it is done
  document.addEventListener("keydown", (e) => {
    if (e.altKey || e.metaKey || (e.ctrlKey && e.key !== "z")) return;
    const at = e.target as HTMLElement;
    if (at.closest("dialog") || at.closest(written)) return;
    if (e.key === "Tab") tabbed(true);
    const name = e.ctrlKey ? "Ctrl+" + e.key : e.key;
    const key = list.find((k) => k.keys.includes(name));
    if (!key) return;
    if (!key.first?.()) {
      if (e.key === "Enter" && at.closest("button, a, summary, input, select")) return;
      if (e.key === " " && byTab && at.closest("button, summary, input:not([type=range]), select")) return;
      if (at.closest("select") && byTab) return; // it chooses by letters and arrows
      if (at.closest("[role=tablist], input[type=range]") && e.key.startsWith("Arrow")) return;
    }
    e.preventDefault();
    if (e.repeat && e.key === " ") return;
    tabbed(false);
    setTimeout(() => key.run(), 20); // the letter that opens a form must not be typed into it
  });
  // Some browsers press a button when Space is let go, whatever became of the key before.
  document.addEventListener("keyup", (e) => {
    const at = e.target as HTMLElement;
    if (e.key === " " && !byTab && !at.closest("dialog") && !at.closest(written)) e.preventDefault();
  });
}
