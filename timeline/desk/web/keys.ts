// The keyboard. Keys typed into a field are words, and a dialog has its own.

export interface Key {
  keys: string[]; // as the browser names them
  shown: string; // as the sheet shows them
  does: string;
  first?(): boolean; // whether it means this even where a button is in focus
  run(): void;
}

export function bindKeys(list: Key[]): void {
  document.addEventListener("keydown", (e) => {
    if (e.altKey || e.metaKey || (e.ctrlKey && e.key !== "z")) return;
    const at = e.target as HTMLElement;
    if (at.closest("dialog") || at.closest("textarea, select, input:not([type=range])")) return;
    const name = e.ctrlKey ? "Ctrl+" + e.key : e.key;
    const key = list.find((k) => k.keys.includes(name));
    if (!key) return;
    // A button in focus is pressed by Space and Enter, as everywhere.
    if ((e.key === " " || e.key === "Enter") && !key.first?.() && at.closest("button, a, summary, [role=tab]")) return;
    if (at.closest("[role=tablist], input[type=range]") && e.key.startsWith("Arrow")) return;
    e.preventDefault();
    setTimeout(() => key.run(), 20); // the letter that opens a form must not be typed into it
  });
}
