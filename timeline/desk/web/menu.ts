// "Hand it on" closes with Esc, and when anything else is touched or comes into focus.
export function closing(menu: HTMLDetailsElement): void {
  const elsewhere = (e: Event) => {
    if (!(e.target instanceof Node && menu.contains(e.target))) menu.open = false;
  };
  for (const what of ["pointerdown", "focusin"]) document.addEventListener(what, elsewhere);
  document.addEventListener("keydown", (e) => {
    if (e.key !== "Escape" || !menu.open) return;
    menu.open = false;
    menu.querySelector("summary")?.focus();
    e.stopPropagation();
  }, true);
}
