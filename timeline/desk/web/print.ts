// The lesson on paper: on the first sheet what holds for all of it, then one sheet per
// maneuver, with what people wrote.
import { cardView, drawRail, handView } from "./card";
import { byId, clock, h, icon, reasonOf, when } from "./dom";
import { cards, decides, talks, type Card, type Talk } from "./lesson-data";
import { verdictWord, severityWord, shapeOf } from "./words-for";
import type { Note, State } from "./types";

const id = document.body.dataset.lesson ?? "";

/** The maneuver a note belongs to: the one it was written on, or the one whose time its moment is in. */
function cardOf(n: Note, list: Card[]): Card | undefined {
  if (n.maneuver) return list.find((c) => c.id === n.maneuver);
  const at = n.at ?? -1;
  return list.find((c) => at >= c.maneuver.start && at <= c.maneuver.end) ?? list.find((c) => at >= c.maneuver.start - 5 && at <= c.maneuver.end + 5);
}

function noteView(n: Note): HTMLElement {
  const at = n.at ?? null;
  return h("p", { class: "by-hand" }, icon("pen"), at !== null ? h("span", { class: "time" }, `${clock(at)} `) : null, n.text, " ", h("span", { class: "who" }, `${n.author}, ${when(n.written)}`));
}

function findView(t: Talk): HTMLElement {
  const f = t.finding;
  return h(
    "div",
    { class: `sheet-find is-${f.severity}` },
    icon(shapeOf(f.kind)),
    h("p", {}, h("strong", { class: "level" }, severityWord(f.severity)), " ", h("strong", {}, `${verdictWord(f.kind)}${f.at !== null ? `, ${clock(f.at)}` : ""}. `), f.message, " ", h("cite", {}, f.reference)),
    t.row?.hands.filter((x) => !decides(t.row!, x)).map((x) => handView(x)),
  );
}

async function start(): Promise<void> {
  const answer = await fetch(`/lessons/${id}/state`);
  if (!answer.ok) throw new Error(`the desk answered ${answer.status}`);
  const state = (await answer.json()) as State;
  const list = cards(state);
  const head = () => h("p", { class: "sheet-head" }, [state.title, state.date, state.student && `student ${state.student}`, state.instructor && `instructor ${state.instructor}`, state.aircraft].filter(Boolean).join("  ·  "));
  const onSteps = (card: Card, n: Note) => card.rows.some((r) => r.notes.includes(n));
  const general = state.notes.filter((n) => !cardOf(n, list));
  const whole = general.length > 0 ? h("section", { class: "sheet-notes of-all" }, h("h3", {}, "Notes on the lesson"), general.map(noteView)) : null;
  const sheets = list.map((card, i) => {
    const found = talks([card]);
    const notes = state.notes.filter((n) => cardOf(n, list) === card && !onSteps(card, n));
    return h(
      "section",
      { class: "sheet" },
      head(),
      i === 0 ? whole : null,
      cardView(card, null),
      found.length > 0 ? h("section", { class: "sheet-talk" }, h("h3", {}, "To talk about"), found.map(findView)) : null,
      h("section", { class: "sheet-notes" }, h("h3", {}, "Notes"), notes.map(noteView), h("div", { class: "ruled", "aria-hidden": "true" }, h("hr"), h("hr"), h("hr"))),
    );
  });
  if (sheets.length === 0) sheets.push(h("section", { class: "sheet" }, head(), h("p", {}, state.trouble ? `This recording could not be heard: ${state.trouble}` : "No maneuver was found."), whole));
  const next = state.workOn.filter((w) => !w.done);
  const last = next.length > 0 ? [h("section", { class: "sheet-next" }, h("h3", {}, "Work on next"), h("ul", {}, next.map((w) => h("li", {}, w.text, " ", h("span", { class: "who" }, w.author)))))] : [];
  byId("sheets").replaceChildren(...sheets, ...last);
  const rails = () => document.querySelectorAll<HTMLElement>(".flow").forEach((g) => drawRail(g));
  rails();
  addEventListener("beforeprint", rails);
  matchMedia("print").addEventListener("change", rails);
  byId("print").addEventListener("click", () => print());
}

start().catch((e: unknown) => byId("sheets").replaceChildren(h("p", {}, `The lesson could not be opened: ${reasonOf(e)}.`)));
