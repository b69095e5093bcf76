// The form in which a call is added that was not heard: which callouts it offers, and
// what it takes.
import { seconds, Wrong, type Given } from "./dialogs";
import { byId, clock, h } from "./dom";
import type { Card } from "./lesson-data";
import type { Callout, State } from "./types";

/** The callouts of a step, any of which answers it. */
export const calloutsOf = (state: State, card: Card | undefined, step: string): string[] => state.asked[card?.maneuver.procedure ?? ""]?.find((s) => s.step === step)?.callouts ?? [];

/** Offers the callouts: those of the card first, in its order, then the rest A to Z. */
export function offer(state: State, card: Card | undefined): void {
  const own = [...new Set((state.asked[card?.maneuver.procedure ?? ""] ?? []).flatMap((s) => s.callouts))];
  const first = own.map((id) => state.callouts.find((c) => c.id === id)).filter((c): c is Callout => c !== undefined);
  const rest = state.callouts.filter((c) => !own.includes(c.id));
  byId("callouts").replaceChildren(...[...first, ...rest].map((c) => h("option", { value: c.title })));
}

/** The call as it is sent. */
export function callOf(given: Given, state: State): Record<string, unknown> & { kind: string } {
  const name = given.callout!.toLowerCase();
  const chosen = state.callouts.find((c) => c.title.toLowerCase() === name);
  if (!chosen) {
    const near = nearest(name, state.callouts);
    throw new Wrong(`No callout is named “${given.callout}”. ${near.length > 0 ? "Did you mean:" : "Choose one of the list."}`, "callout", near);
  }
  const at = seconds(given.at!);
  if (Number.isNaN(at)) throw new Wrong(`“${given.at}” is not a time such as 1:35.`, "at");
  if (at > state.duration) throw new Wrong(`The recording ends at ${clock(state.duration)}.`, "at");
  const call = { kind: "call", callout: chosen.id, at, ...(given.speaker ? { speaker: given.speaker } : {}) };
  if (!given.value) return call;
  const value = Number(given.value.replace(/[, ]/g, ""));
  if (Number.isNaN(value)) throw new Wrong(`“${given.value}” is not a figure such as 1700: leave it empty if none was said.`, "value");
  if (!chosen.unit) throw new Wrong(`“${chosen.title}” has no figure: leave this empty.`, "value");
  if (given.unit && given.unit !== chosen.unit) throw new Wrong(`The figure of “${chosen.title}” is in ${chosen.unit}.`, "unit");
  return { ...call, value, unit: chosen.unit };
}

/** The titles that have most words in common with what was written, three at most. */
function nearest(name: string, callouts: Callout[]): string[] {
  const words = name.split(/[^a-z0-9]+/).filter((w) => w.length > 1);
  const common = (title: string) => words.filter((w) => title.toLowerCase().includes(w)).length;
  return callouts
    .map((c) => c.title)
    .filter((t) => common(t) > 0)
    .sort((a, b) => common(b) - common(a) || a.length - b.length)
    .slice(0, 3);
}
