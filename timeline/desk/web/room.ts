// What room there is between the strip and the player, and bringing things into it. The
// strip stays at the top, but its upper part (tools, waveform, phases) is scrolled away:
// it is low while the card is read.
import { byId } from "./dom";

/** Keeps the style sheet told how much of the strip scrolls away and how much of the
 * window the strip, then low, and the player take. */
export function followStrip(): void {
  const strip = document.querySelector<HTMLElement>(".strip")!;
  const foot = byId("foot");
  const root = document.documentElement.style;
  const measure = () => {
    const low = byId("lane-names").querySelector<HTMLElement>(".of-maneuver");
    const off = low ? low.getBoundingClientRect().top - strip.getBoundingClientRect().top : 0;
    root.setProperty("--strip-off", `${-Math.floor(Math.max(off, 0))}px`);
    root.setProperty("--strip-low", getComputedStyle(strip).position === "sticky" ? `${Math.ceil(strip.offsetHeight - off)}px` : "0px");
    root.setProperty("--foot", `${foot.offsetHeight}px`);
  };
  const watch = new ResizeObserver(measure);
  for (const e of [strip, foot, byId("lane-names")]) watch.observe(e);
  addEventListener("resize", measure);
}

/** Scrolls so that both things are in view, where they fit; else the first. */
export function bringIntoView(first: HTMLElement, second: HTMLElement | null): void {
  const style = getComputedStyle(document.documentElement);
  const px = (name: string) => parseFloat(style.getPropertyValue(name)) || 0;
  const top = px("--strip-low") + 8;
  const tabs = document.querySelector<HTMLElement>(".side")!;
  const sheet = getComputedStyle(tabs).position === "fixed" ? tabs.offsetHeight : 0;
  const room = innerHeight - px("--foot") - sheet - 8 - top;
  const a = first.getBoundingClientRect();
  const b = second?.getBoundingClientRect() ?? a;
  const both = { top: Math.min(a.top, b.top), bottom: Math.max(a.bottom, b.bottom) };
  const goal = both.bottom - both.top <= room ? both : { top: a.top, bottom: Math.min(a.bottom, a.top + room) };
  scrollTo({ top: scrollY + goal.top - top - (room - (goal.bottom - goal.top)) / 2 });
}
