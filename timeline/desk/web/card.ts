// The card of a maneuver: on the left the procedure as it is written, each step with
// its verdict in words; on the right what was said, in the order it was said. A line
// joins each step to its call: where order was kept they run side by side, where it
// was broken one crosses the others.
import { clock, h, icon, plays, s, when } from "./dom";
import { machineSays, speakerName, verdictOf, type Card, type Row } from "./lesson-data";
import { figure, handWord, shapeOf, verdictWord } from "./words-for";
import { signed } from "./waiting";
import type { Hand } from "./types";

export interface CardHand {
  hear(at: number, what: string): void;
  select(step: string): void;
  selected: string;
  on(row: Row): string; // what the person who is writing says of it now
  accept(card: Card, row: Row): void;
  listenAgain(card: Card, row: Row): void;
  overrule(card: Card, row: Row): void;
  note(card: Card, row: Row): void;
  workOn(card: Card, row: Row): void;
  addCall(card: Card, row: Row): void;
}

/** The card; act is null on paper, where nothing can be pressed. */
export function cardView(card: Card, act: CardHand | null): HTMLElement {
  const m = card.maneuver;
  const grid = h("div", { class: "flow" });
  grid.append(h("p", { class: "flow-head written" }, "The card, as written"), h("p", { class: "flow-head gutter" }), h("p", { class: "flow-head" }, "What was said, in that order"));
  const rail = s("svg", { class: "rail", "aria-hidden": "true", focusable: "false" });
  const slots = inOrder(card.rows);
  let phase = "";
  let line = 2;
  const list = h("ol", { class: "steps" });
  const said = h("ol", { class: "said-list", "aria-label": "What was said, in that order" });
  card.rows.forEach((row, i) => {
    if (row.step.phase && row.step.phase !== phase) {
      phase = row.step.phase;
      const head = h("li", { class: "phase-row" }, h("h3", {}, phase));
      head.style.gridRow = String(line++);
      list.append(head);
    }
    const left = stepView(card, row, act);
    left.style.gridRow = String(line);
    list.append(left);
    const slot = slots[i];
    const right = slot ? saidView(slot, act) : missedView(row, act);
    right.style.gridRow = String(line++);
    said.append(right);
  });
  grid.append(list, rail, said);
  grid.dataset.maneuver = card.id;
  return h(
    "article",
    { class: "card", "aria-labelledby": `title-${card.number}` },
    h("header", {}, h("h2", { id: `title-${card.number}` }, h("span", { class: "num" }, card.number), " ", m.title), h("p", { class: "span" }, `${clock(m.start)} to ${clock(m.end)}`), h("p", { class: "tally" }, m.abandoned ? m.abandoned.reason : tally(card))),
    m.remarks.map((r) => h("p", { class: "remark" }, r)),
    card.rows.length > 0 ? grid : null,
    card.uncalled.length > 0 ? h("p", { class: "uncalled" }, `Not called, and not required: ${card.uncalled.join(", ")}.`) : null,
  );
}

/** For each row the row whose call stands beside it: the calls by time, in the places of rows that have one. */
function inOrder(rows: Row[]): (Row | null)[] {
  const heard = rows.filter((r) => r.step.at !== null).sort((a, b) => a.step.at! - b.step.at!);
  let k = 0;
  return rows.map((r) => (r.step.at === null ? null : heard[k++]!));
}

export function tally(card: Card): string {
  const count = new Map<string, number>();
  for (const r of card.rows) count.set(verdictOf(r), (count.get(verdictOf(r)) ?? 0) + 1);
  return ["heard", "not-heard", "out-of-order", "late", "off-value", "unsure"]
    .filter((v) => count.has(v))
    .map((v) => `${count.get(v)} ${v === "unsure" ? "unsure" : verdictWord(v)}`)
    .join(", ");
}

function stepView(card: Card, row: Row, act: CardHand | null): HTMLElement {
  const verdict = verdictOf(row);
  const machine = machineSays(row);
  const overruled = !!row.step.person;
  const selected = act?.selected === row.step.id;
  const heard = row.call ? `, ${row.call.added_by ? "" : `said ${row.call.heard} `}at ${clock(row.step.at!)}` : "";
  const name = h("span", { class: "name" }, row.step.title);
  const words = [
    name,
    h("span", { class: "leader", "aria-hidden": "true" }),
    overruled && machine !== "" && machine !== verdict ? h("span", { class: "struck" }, h("span", { class: "unseen" }, "the machine said "), verdictWord(machine)) : null,
    overruled ? h("span", { class: "verdict by-hand" }, icon("pen"), verdictWord(verdict)) : h("span", { class: `verdict v-${shapeOf(verdict)}` }, verdictWord(verdict)),
    row.step.prompted ? h("span", { class: "prompted" }, "prompted") : null,
    h("span", { class: "unseen" }, heard),
  ];
  // The reason is the machine's.
  const short = machine === "heard" || row.step.person?.how === "added" ? "" : row.step.reason;
  const reason = row.finding?.message ?? short;
  return h(
    "li",
    { class: `step is-${verdict}${selected ? " selected" : ""}`, "data-step": row.step.id },
    icon(shapeOf(verdict)),
    h(
      "div",
      { class: "what" },
      act
        ? h("button", { type: "button", class: "item", "aria-expanded": selected ? "true" : "false", "data-keep": `step-${row.step.id}`, onclick: () => act.select(row.step.id) }, words)
        : h("p", { class: "item" }, words),
      !selected && short ? h("p", { class: "reason" }, short) : null,
      selected && reason ? h("p", { class: "reason" }, reason, row.finding?.reference ? h("cite", {}, row.finding.reference) : null) : null,
      row.step.person?.how === "added" ? h("p", { class: "by-hand" }, icon("pen"), addedBy(row)) : null,
      row.hands.map((x) => handView(x)),
      row.notes.map((n) => h("p", { class: "by-hand note" }, icon("pen"), n.text, " ", h("span", { class: "who" }, n.unsaved ? signed(n.author, "", true) : n.author))),
      selected && act ? actions(card, row, act) : null,
    ),
  );
}

/** Who added the call a step rests on, and what the machine says of it. */
function addedBy(row: Row): string {
  const was = machineSays(row);
  return `call added by ${row.step.person?.author}; the machine: ${was ? verdictWord(was) : "did not find this maneuver"}`;
}

/** What a person said of a verdict, in their own ink and with their name. */
export function handView(hand: Hand): HTMLElement {
  const text = hand.hand === "overrule" ? `overruled: ${verdictWord(hand.verdict ?? "unsure")}` : handWord[hand.hand];
  return h("p", { class: "by-hand" }, icon("pen"), h("strong", {}, text), hand.reason ? ` “${hand.reason}”` : "", " ", h("span", { class: "who" }, signed(hand.author, when(hand.at), hand.unsaved)));
}

function actions(card: Card, row: Row, act: CardHand): HTMLElement {
  const of = row.step.title;
  const on = act.on(row);
  const button = (text: string, key: string, label: string, f: () => void, pressed?: boolean) => h("button", { type: "button", class: "small", "data-keep": `${key}-${row.step.id}`, "aria-label": label, "aria-pressed": pressed === undefined ? null : String(pressed), onclick: f }, text);
  return h(
    "div",
    { class: "actions", role: "group", "aria-label": `Your hand on ${of}` },
    row.at !== null && !document.body.classList.contains("silent") ? button("Listen", "hear", `Listen to ${of}`, () => act.hear(row.at!, of)) : null,
    button("Agree", "agree", `Agree: ${of}`, () => act.accept(card, row), on === "accept"),
    button("Overrule…", "overrule", `Overrule: ${of}`, () => act.overrule(card, row), on === "overrule"),
    button("Come back to this", "again", `Come back to this: ${of}`, () => act.listenAgain(card, row), on === "listen-again"),
    button("Note…", "note", `Note on ${of}`, () => act.note(card, row)),
    button("Work on next", "work", `Work on next: ${of}`, () => act.workOn(card, row)),
    row.step.at === null ? button("It was said…", "said", `${of} was said: add the call`, () => act.addCall(card, row)) : null,
  );
}

const listen = (at: number, what: string, act: CardHand | null): HTMLElement =>
  act ? h("button", { type: "button", class: "listen", "data-at": at.toFixed(2), ...plays(`Listen at ${clock(at)}: ${what}`), onclick: () => act.hear(at, what) }, icon("listen", "glyph"), clock(at)) : h("span", { class: "time" }, clock(at));

function saidView(row: Row, act: CardHand | null): HTMLElement {
  const c = row.call;
  const who = c ? speakerName(c.speaker, 0, 1) : "";
  return h("li", { class: "said", "data-said": row.step.id }, listen(row.step.at!, row.step.title, act), h("span", { class: "quote" }, who ? h("b", {}, who) : null, c?.added_by ? h("span", { class: "by-hand" }, icon("pen"), `added by ${c.added_by}`) : c ? h("q", {}, c.heard) : row.step.title, c && row.step.value !== null ? h("span", { class: "figure" }, figure(row.step.value, c.unit)) : null));
}

function missedView(row: Row, act: CardHand | null): HTMLElement {
  if (row.at === null) return h("li", { class: "said empty" });
  const here = row.step.verdict === "unsure" ? "is perhaps" : "was due";
  return h("li", { class: "said missed", "data-missed": row.step.id }, listen(row.at, `${row.step.title} ${here} here`, act), h("span", { class: "quote" }, `${here} about here`));
}

/** Draws the lines between the steps and their calls, once the rows have their places. */
export function drawRail(grid: HTMLElement): void {
  const rail = grid.querySelector<SVGElement>(".rail");
  if (!rail) return;
  const box = rail.getBoundingClientRect();
  const width = box.width;
  if (width < 4) return;
  const lines: SVGElement[] = [];
  const over: SVGElement[] = [];
  const y = (e: Element) => e.getBoundingClientRect().top - box.top + 16;
  for (const step of grid.querySelectorAll<HTMLElement>(".step")) {
    const id = step.dataset.step ?? "";
    const y0 = y(step);
    const said = grid.querySelector(`[data-said="${CSS.escape(id)}"]`);
    if (!said) {
      lines.push(s("path", { class: "stub", d: `M4 ${y0}H${width * 0.36}` }), s("circle", { class: "ring", cx: width * 0.36 + 5, cy: y0, r: 4.5 }));
      continue;
    }
    const y1 = y(said);
    const broken = step.classList.contains("is-out-of-order");
    const path = s("path", { class: broken ? "line broken" : "line", "data-line": id, d: Math.abs(y1 - y0) < 1 ? `M4 ${y0}H${width - 4}` : `M4 ${y0}C${width * 0.5} ${y0} ${width * 0.5} ${y1} ${width - 4} ${y1}` });
    (broken ? over : lines).push(path, s("circle", { class: broken ? "end broken" : "end", cx: 4, cy: y0, r: broken ? 4 : 2.5 }), s("circle", { class: broken ? "end broken" : "end", cx: width - 4, cy: y1, r: broken ? 4 : 2.5 }));
  }
  rail.replaceChildren(...lines, ...over);
}
