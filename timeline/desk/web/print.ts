// The lesson on paper: one page per maneuver, with what people wrote.
import { cardView, drawRail, handView } from "./card";
import { byId, clock, h, icon, when } from "./dom";
import { cards } from "./lesson-data";
import { verdictWord, shapeOf } from "./words-for";
import type { State } from "./types";

const id = document.body.dataset.lesson ?? "";

async function start(): Promise<void> {
  const answer = await fetch(`/lessons/${id}/state`);
  if (!answer.ok) throw new Error(`the desk answered ${answer.status}`);
  const state = (await answer.json()) as State;
  const sheets = cards(state).map((card) => {
    const notes = state.notes.filter((n) => (n.maneuver === card.id && !card.rows.some((r) => r.step.id === n.step)) || (!n.maneuver && n.at != null && n.at >= card.maneuver.start - 5 && n.at <= card.maneuver.end + 5));
    return h(
      "section",
      { class: "sheet" },
      h("p", { class: "sheet-head" }, [state.title, state.date, state.student && `student ${state.student}`, state.instructor && `instructor ${state.instructor}`, state.aircraft].filter(Boolean).join("  ·  ")),
      cardView(card, null),
      card.maneuver.findings.length > 0 ? h("section", { class: "sheet-talk" }, h("h3", {}, "To talk about"), card.maneuver.findings.map((f) => {
        const hand = card.rows.find((r) => r.step.id === f.step)?.hand;
        return h("div", { class: "sheet-find" }, icon(shapeOf(f.kind)), h("p", {}, h("strong", {}, `${verdictWord(f.kind)}${f.at !== null ? `, ${clock(f.at)}` : ""}. `), f.message, " ", h("cite", {}, f.reference)), hand ? handView(hand) : null);
      })) : null,
      h("section", { class: "sheet-notes" }, h("h3", {}, "Notes"), notes.map((n) => h("p", { class: "by-hand" }, icon("pen"), n.text, " ", h("span", { class: "who" }, `${n.author}, ${when(n.written)}`))), h("div", { class: "ruled", "aria-hidden": "true" }, h("hr"), h("hr"), h("hr"))),
    );
  });
  const next = state.workOn.filter((w) => !w.done);
  const last = next.length > 0 ? [h("section", { class: "sheet-next" }, h("h3", {}, "Work on next"), h("ul", {}, next.map((w) => h("li", {}, w.text, " ", h("span", { class: "who" }, w.author)))))] : [];
  byId("sheets").replaceChildren(...sheets, ...last);
  const rails = () => document.querySelectorAll<HTMLElement>(".flow").forEach((g) => drawRail(g));
  rails();
  addEventListener("beforeprint", rails);
  matchMedia("print").addEventListener("change", rails);
  byId("print").addEventListener("click", () => print());
}

start().catch((e: unknown) => byId("sheets").replaceChildren(h("p", {}, `The lesson could not be opened: ${e instanceof Error ? e.message : String(e)}.`)));
