// A line over the bar that says for a while what was just done.
import { byId } from "./dom";

const stays = 8000; // ms
let leaves = 0;

export function tell(text: string): void {
  const box = byId("told");
  box.textContent = text;
  box.hidden = false;
  clearTimeout(leaves);
  leaves = window.setTimeout(() => (box.hidden = true), stays);
}
