// What the page answers to something that cannot be done, or asks for next: seen above
// the player and read aloud, until the next thing is done.
import { byId } from "./dom";

export function notice(text: string): void {
  const box = byId("notice");
  if (box.textContent === text) box.textContent = ""; // said anew
  requestAnimationFrame(() => (box.textContent = text));
}

for (const what of ["keydown", "pointerdown"]) document.addEventListener(what, () => (byId("notice").textContent = ""), true);
