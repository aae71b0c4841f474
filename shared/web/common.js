// What both pages share. Text gets into the page as text only: no name can become markup.
"use strict";

const $ = (id) => document.getElementById(id);

// An element: h("td", {class: "none"}, "text", child, ...).
function h(tag, attributes, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes || {})) {
    if (value !== null && value !== undefined && value !== false) {
      element.setAttribute(name, value === true ? "" : value);
    }
  }
  element.append(...children.filter((child) => child !== null && child !== undefined));
  return element;
}

function setText(element, text) {
  if (element.textContent !== text) {
    element.textContent = text;
  }
}

// A count is null where nobody tagged the corner: unknown, never zero.
const known = (number) => (number === null ? "?" : `${number}`);
const untagged = (corner) => corner.attempted === null;
const ratio = (count) => (count.attempted === null ? "?" : `${count.landed}/${count.attempted}`);
// As every sheet writes it (tally/shares.h): whole per cents, half up; 100 is all, 0 is none.
function accuracy({ landed, attempted }) {
  if (!attempted) {
    return "–";
  }
  const percent = Math.floor((200 * landed + attempted) / (2 * attempted));
  return `${Math.max(landed > 0 ? 1 : 0, Math.min(landed < attempted ? 99 : 100, percent))}%`;
}
const RATE_LEAST_MS = 30000; // one strike in the first second is no sixty a minute
const output = (corner, ranMs) => (corner.output_per_min === null || ranMs < RATE_LEAST_MS
  ? "–" : corner.output_per_min.toFixed(1));

function clockText(ms) {
  const seconds = Math.max(0, Math.ceil(ms / 1000));
  return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
}

// Time that has passed, rounded down as a round clock does.
const elapsedText = (ms) => `${Math.floor(ms / 60000)}:${String(Math.floor(ms / 1000) % 60).padStart(2, "0")}`;

function ageText(ms) {
  const seconds = Math.max(0, Math.floor(ms / 1000));
  if (seconds < 100) {
    return `${seconds} s`;
  }
  const minutes = Math.floor(seconds / 60);
  return minutes < 100 ? `${minutes} min` : `${Math.floor(minutes / 60)} h`;
}

// Texts of any script beside each other: none turns its neighbour around.
const isolated = (texts) => texts.filter(Boolean).flatMap((text, index) =>
  [index ? " · " : "", h("bdi", null, text)]);

// Words of ours around names of any script: the sentence runs from left to right, each name its own way.
function sentence(text, of) {
  const names = of ? [of.red, of.blue].map((corner) => corner.short_name || corner.fighter) : [];
  const known = names.filter(Boolean).map((name) => name.replace(/[.*+?^${}()|[\]\\]/g, "\\$&"));
  const parts = known.length ? text.split(new RegExp(`(${known.join("|")})`)) : [text];
  return h("span", { dir: "ltr" }, ...parts.map((part, index) => (index % 2 ? h("bdi", null, part) : part)));
}

// Landed of attempted in a cell of a pad: two lines where one has no room, so that no digit is cut.
const landedOf = (count) => [`${count.landed}`, h("wbr"), h("small", null, `/${count.attempted}`)];

const broken = (text) => text.split(/(?<=\/)/).flatMap((part, index) => (index ? [h("wbr"), part] : [part]));

// What a producer holds back, and how late all is on purpose; "" where nothing is.
function heldText(gate) {
  const waiting = gate ? gate.holds.filter((kind) => gate.waiting[kind] > 0) : [];
  return waiting.length ? `Held for review, and not in these figures: ${waiting.join(", ")}.` : "";
}
const lateText = (gate) => (gate && gate.delay_s > 0 ? `All is ${gate.delay_s} s late on purpose.` : "");

const timeText = (moment) => moment.toLocaleTimeString("en-GB");

// The state of the line: "wait", "live" or "cut".
function setLine(state, text) {
  document.body.dataset.line = state;
  setText($("line"), text);
}

// Alarms by a name each; the region speaks only where one changed.
const alarms = new Map();
function alarm(name, text) {
  if ((alarms.get(name) || "") === (text || "")) {
    return;
  }
  if (text) {
    alarms.set(name, text);
  } else {
    alarms.delete(name);
  }
  $("alarms").replaceChildren(...[...alarms.values()].map((line) => h("p", null, line)));
}

// A document, or an Error that says why not in words.
async function getJson(path) {
  const stop = AbortSignal.timeout ? AbortSignal.timeout(8000) : undefined;
  const answer = await fetch(path, { cache: "no-cache", signal: stop });
  if (answer.ok) {
    return answer.json();
  }
  let reason = `${answer.status}`;
  try {
    reason = (await answer.json()).error || reason;
  } catch (ignored) {
    // no document: the number has to do
  }
  const error = new Error(answer.status === 401 ? "this device is not let in: ask for a new link" : reason);
  error.status = answer.status;
  throw error;
}

// Keeps the pages at hand for when there is no line; where that is not allowed, there is none.
function worker() {
  if ("serviceWorker" in navigator) {
    navigator.serviceWorker.register("/sw.js").catch(() => {});
  }
}
