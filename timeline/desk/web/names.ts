// Who may be writing: those who flew are offered by name.
import { byId, h, redraw } from "./dom";
import type { State } from "./types";

export function offerNames(s: State): void {
  const box = byId("who-offered");
  const field = byId<HTMLInputElement>("who-name");
  const known = [[s.student, "student"], [s.instructor, "instructor"]].filter(([name]) => name);
  box.hidden = known.length === 0;
  redraw(box, known.map(([name, seat]) => h("button", { type: "button", "data-keep": `as-${seat}`, onclick: () => {
    field.value = name!;
    byId<HTMLDialogElement>("who").close("ok");
  } }, `${name}, ${seat}`)));
}
