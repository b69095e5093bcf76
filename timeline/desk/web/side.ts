// The lists beside the card: what to talk about, the words, the notes, the history. On a
// narrow page they are a sheet above the player, of which the tabs stay in view.
import { byId } from "./dom";

const narrow = matchMedia("(max-width: 64rem)");

export class Side {
  private readonly tabs = [...document.querySelectorAll<HTMLElement>("[role=tab]")];
  private open = false; // the sheet

  /** shown is called when another list is shown, or less of the card. */
  constructor(private shown: () => void) {
    this.tabs.forEach((t, i) => {
      t.addEventListener("click", () => {
        const again = t.getAttribute("aria-selected") === "true";
        this.choose(t);
        this.setOpen(!(again && this.open));
      });
      t.addEventListener("keydown", (e) => {
        const by = e.key === "ArrowRight" ? 1 : e.key === "ArrowLeft" ? -1 : 0;
        const next = this.tabs[(i + by + this.tabs.length) % this.tabs.length];
        if (by === 0 || !next) return;
        e.preventDefault();
        this.choose(next);
        next.focus();
      });
    });
    byId("side-shut").addEventListener("click", () => this.shut());
    narrow.addEventListener("change", () => this.setOpen(this.open));
    this.setOpen(false);
  }

  show(name: string): void {
    const t = byId(`tab-${name}`);
    this.choose(t);
    this.setOpen(true);
    t.focus();
  }

  /** Closes the sheet; says whether there was one to close. */
  shut(): boolean {
    if (!narrow.matches || !this.open) return false;
    this.setOpen(false);
    this.tabs.find((t) => t.getAttribute("aria-selected") === "true")?.focus();
    return true;
  }

  private choose(tab: HTMLElement): void {
    for (const t of this.tabs) {
      const on = t === tab;
      t.setAttribute("aria-selected", String(on));
      t.tabIndex = on ? 0 : -1;
      byId(t.getAttribute("aria-controls") ?? "").hidden = !on;
    }
    this.shown();
  }

  private setOpen(on: boolean): void {
    this.open = on;
    document.body.classList.toggle("side-open", on && narrow.matches);
    byId("side-shut").hidden = !narrow.matches || !on;
    for (const t of this.tabs) {
      if (narrow.matches) t.setAttribute("aria-expanded", String(on && t.getAttribute("aria-selected") === "true"));
      else t.removeAttribute("aria-expanded");
    }
    this.shown();
  }
}
