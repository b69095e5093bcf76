// The page works without this script: it adds listening from any time, keys, and
// the notes in print. Nothing leaves the page and nothing is kept.
"use strict";
(() => {
  const $ = (s) => document.querySelector(s);
  const $$ = (s) => [...document.querySelectorAll(s)];
  const audio = $("audio");
  const lead = 1; // seconds before a call, to hear how it begins
  const clock = (t) => {
    const s = Math.max(0, Math.floor(t + 1e-6)), two = (n) => String(n).padStart(2, "0");
    return s < 3600 ? `${Math.floor(s / 60)}:${two(s % 60)}` : `${Math.floor(s / 3600)}:${two(Math.floor(s / 60) % 60)}:${two(s % 60)}`;
  };

  // Listening.
  let goTo = () => {};
  let playFrom = () => {};
  let toggle = () => {};
  let now = () => 0;
  if (audio) {
    const play = $("#play"), shown = $("#clock"), seek = $("#seek"), icon = play.querySelector("use");
    audio.controls = false;
    for (const e of [play, shown, seek]) e.hidden = false;
    document.body.classList.add("has-sound");
    // The sound of a long lesson is cut to stretches of it; times are the lesson's.
    let before = 0;
    const spans = (audio.dataset.spans || "").split(" ").filter(Boolean).map((s) => {
      const [from, to] = s.split("-").map(Number);
      before += to - from;
      return { from, to, at: before - (to - from) };
    });
    const length = () => (Number.isFinite(audio.duration) ? audio.duration : 0);
    const end = () => (spans.length ? +audio.dataset.length : length());
    now = () => {
      const t = audio.currentTime;
      const s = spans.findLast((s) => s.at <= t + 1e-3);
      return s ? Math.min(s.from + t - s.at, s.to) : t;
    };
    const inSound = (t) => {
      if (!spans.length) return t;
      const s = spans.find((s) => t <= s.to) || spans.at(-1);
      return s.at + Math.min(Math.max(t - s.from, 0), s.to - s.from);
    };
    const strips = $$(".strip").map((e) => ({
      from: +e.dataset.from, to: +e.dataset.to, heads: [...e.querySelectorAll(".playhead")],
    }));
    const rows = $$(".step, .find").map((e) => {
      const at = e.querySelector("[data-at]") || (e.dataset.at ? e : null);
      return at && { e, at: +at.dataset.at };
    }).filter(Boolean);
    const draw = () => {
      const t = now();
      shown.textContent = `${clock(t)} / ${clock(end())}`;
      if (document.activeElement !== seek || !audio.paused) seek.value = Math.round(t);
      seek.setAttribute("aria-valuetext", clock(t));
      for (const s of strips) {
        const inside = t >= s.from && t <= s.to && s.to > s.from;
        for (const h of s.heads) {
          h.hidden = !inside;
          if (inside) h.style.left = `${(100 * (t - s.from)) / (s.to - s.from)}%`;
        }
      }
      for (const r of rows) r.e.classList.toggle("playing", !audio.paused && t >= r.at - lead && t < r.at + 3);
    };
    const each = () => {
      draw();
      if (!audio.paused) requestAnimationFrame(each);
    };
    goTo = (t) => {
      const to = inSound(Math.max(0, t));
      audio.currentTime = length() ? Math.min(to, length()) : to;
      draw();
    };
    playFrom = (t) => {
      goTo(t - lead);
      audio.play().catch(() => {}); // a second press may interrupt the first
    };
    toggle = () => (audio.paused ? audio.play().catch(() => {}) : audio.pause());
    const state = () => {
      icon.setAttribute("href", audio.paused ? "#i-listen" : "#i-pause");
      play.setAttribute("aria-label", audio.paused ? "Play" : "Pause");
      each();
    };
    audio.addEventListener("play", state);
    audio.addEventListener("pause", state);
    audio.addEventListener("seeked", draw);
    audio.addEventListener("error", () => { shown.textContent = "this browser cannot play the sound"; });
    const ready = () => {
      seek.max = Math.max(1, Math.floor(end()));
      draw();
    };
    audio.addEventListener("loadedmetadata", ready);
    ready();
    play.addEventListener("click", toggle);
    seek.addEventListener("input", () => goTo(+seek.value));
    document.addEventListener("click", (e) => {
      const at = e.target.closest("button[data-at], .mark[data-at]");
      if (at) return playFrom(+at.dataset.at);
      const track = e.target.closest(".track");
      if (!track) return;
      const box = track.getBoundingClientRect(), s = track.closest(".strip").dataset;
      goTo(+s.from + ((e.clientX - box.left) / box.width) * (s.to - s.from));
      audio.play().catch(() => {});
    });
  }

  // Findings.
  const finds = $$(".find");
  let here = -1;
  const step = (by) => {
    if (!finds.length) return;
    const focused = finds.findIndex((f) => f.contains(document.activeElement));
    if (focused >= 0) here = focused;
    here = here < 0 ? (by > 0 ? 0 : finds.length - 1) : (here + by + finds.length) % finds.length;
    const f = finds[here];
    f.focus({ preventScroll: true });
    f.scrollIntoView({ block: "center" });
    $("#which").textContent = `${here + 1} of ${finds.length}`;
    if (f.dataset.at) playFrom(+f.dataset.at);
  };
  if (finds.length) {
    $(".jump").hidden = false;
    $("#next").addEventListener("click", () => step(1));
    $("#previous").addEventListener("click", () => step(-1));
  }

  // Keys.
  const keys = $("#keys"), help = $("#help");
  const showKeys = () => (keys.open ? keys.close() : keys.showModal());
  help.hidden = false;
  help.addEventListener("click", showKeys);
  $("#close").addEventListener("click", () => keys.close());
  document.addEventListener("keydown", (e) => {
    if (e.ctrlKey || e.metaKey || e.altKey || e.target.closest("textarea")) return;
    if (e.key === "?") {
      e.preventDefault();
      return showKeys();
    }
    if (keys.open) return;
    const own = e.target.closest("button, a, input, summary"); // they have keys of their own
    const act = {
      " ": () => !own && toggle,
      ArrowLeft: () => audio && e.target.id !== "seek" && (() => goTo(now() - 5)),
      ArrowRight: () => audio && e.target.id !== "seek" && (() => goTo(now() + 5)),
      n: () => () => step(1),
      p: () => () => step(-1),
    }[e.key];
    const todo = act && act();
    if (!todo) return;
    e.preventDefault();
    todo();
  });

  // Notes: printed, and guarded against closing the page by mistake.
  const notes = $$("textarea");
  for (const n of notes) {
    n.addEventListener("input", () => {
      n.parentElement.querySelector(".typed").textContent = n.value;
    });
  }
  window.addEventListener("beforeunload", (e) => {
    if (notes.some((n) => n.value.trim())) e.preventDefault();
  });
})();
