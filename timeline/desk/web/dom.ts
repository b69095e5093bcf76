// Making and finding elements.

type Child = Node | string | number | null | undefined | false | Child[];
type Attributes = Record<string, string | number | boolean | null | undefined | ((e: any) => void)>;

/** Makes an element: a function is a listener ("onclick"), true is an empty attribute, false and null are none. */
export function h<K extends keyof HTMLElementTagNameMap>(tag: K, attributes: Attributes = {}, ...children: Child[]): HTMLElementTagNameMap[K] {
  const e = document.createElement(tag);
  set(e, attributes);
  add(e, children);
  return e;
}

const SVG = "http://www.w3.org/2000/svg";

export function s(tag: string, attributes: Attributes = {}, ...children: Child[]): SVGElement {
  const e = document.createElementNS(SVG, tag);
  set(e, attributes);
  add(e, children);
  return e;
}

function set(e: Element, attributes: Attributes): void {
  for (const [name, value] of Object.entries(attributes)) {
    if (typeof value === "function") e.addEventListener(name.slice(2), value);
    else if (value === true) e.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) e.setAttribute(name, String(value));
  }
}

function add(e: Element, children: Child[]): void {
  for (const c of children) {
    if (Array.isArray(c)) add(e, c);
    else if (c !== null && c !== undefined && c !== false) e.append(c instanceof Node ? c : String(c));
  }
}

/** The element of an id that the page's template always has. */
export function byId<T extends HTMLElement = HTMLElement>(id: string): T {
  const e = document.getElementById(id);
  if (!e) throw new Error(`the page has no #${id}`);
  return e as T;
}

/** One of the page's drawings, the template holds them. */
export function icon(name: string, extra = ""): SVGElement {
  return s("svg", { class: `shape v-${name} ${extra}`, "aria-hidden": "true", focusable: "false" }, s("use", { href: `#i-${name}` }));
}

/** Replaces what is in e and leaves the keyboard where it was: elements to come back to have data-keep. */
export function redraw(e: HTMLElement, ...children: Child[]): void {
  const active = document.activeElement;
  const keep = active instanceof HTMLElement && e.contains(active) ? active.dataset.keep : undefined;
  e.replaceChildren();
  add(e, children);
  if (keep) e.querySelector<HTMLElement>(`[data-keep="${CSS.escape(keep)}"]`)?.focus({ preventScroll: true });
}

/** 95.4 s is "1:35", an hour and more "1:02:03". */
export function clock(t: number): string {
  const n = Math.max(0, Math.floor(t));
  const two = (v: number) => String(v).padStart(2, "0");
  const m = Math.floor(n / 60);
  return m < 60 ? `${m}:${two(n % 60)}` : `${Math.floor(m / 60)}:${two(m % 60)}:${two(n % 60)}`;
}

/** The attributes of what plays a moment: it cannot be pressed while there is no sound. */
export function plays(label: string): Record<string, string | boolean> {
  const silent = document.body.classList.contains("silent");
  return { "aria-label": silent ? `${label} (no sound to play)` : label, disabled: silent, title: silent ? "There is no sound to play: the recording is not here." : "" };
}

export const say = (text: string): void => {
  byId("said-aloud").textContent = text;
};

/** When something was written, as people say it. */
export function when(written: string): string {
  const d = new Date(written);
  if (Number.isNaN(d.getTime())) return written;
  return d.toLocaleString("en-GB", { day: "numeric", month: "short", hour: "2-digit", minute: "2-digit" });
}

/** Why something failed, in words. */
export const reasonOf = (e: unknown): string => (e instanceof Error ? e.message : String(e));
