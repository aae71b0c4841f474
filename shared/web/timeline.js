// The timeline: strikes by round and by ten seconds, drawn from the log's entries.
"use strict";

const BIN_MS = 10000;
const SVG = "http://www.w3.org/2000/svg";

// Strikes by name, as they stand. A correction says what its subject is from then on.
class Strikes {
  constructor() {
    this.known = new Map();
  }

  // True: what it says cannot be told from here, the log has to be read anew.
  take(entry) {
    if (entry.kind !== "strike") {
      return entry.kind === "official" && this.known.size > 0;
    }
    if (entry.act === "add") {
      this.known.set(`${entry.desk} ${entry.seq}`, entry);
      return false;
    }
    const strike = this.known.get(`${entry.subject.desk} ${entry.subject.seq}`);
    if (!strike || entry.desk !== entry.subject.desk) {
      return true; // whether another desk's correction takes effect, the fold knows
    }
    const was = strike.live;
    strike.strike = entry.strike;
    strike.round = entry.round;
    strike.elapsed_ms = entry.elapsed_ms;
    strike.live = entry.act !== "void";
    return strike.live !== was && !strike.official; // it may count again
  }

  // {round: {bins: [{red: [thrown, landed], blue: ...}], down: [{corner, at}]}}
  rounds(lengthMs) {
    const rounds = new Map();
    for (const { strike, round, elapsed_ms: at, live, official } of this.known.values()) {
      if (!live || !official) {
        continue;
      }
      if (!rounds.has(round)) {
        rounds.set(round, { bins: new Map(), down: [] });
      }
      const { bins, down } = rounds.get(round);
      const bin = Math.floor(Math.min(at, lengthMs - 1) / BIN_MS);
      if (!bins.has(bin)) {
        bins.set(bin, { red: [0, 0], blue: [0, 0] });
      }
      const count = bins.get(bin)[strike.corner];
      count[0] += 1;
      count[1] += strike.outcome === "landed" ? 1 : 0;
      if (strike.knockdown) {
        down.push({ corner: strike.corner, at });
      }
    }
    return rounds;
  }
}

function svg(tag, attributes) {
  const element = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) {
    element.setAttribute(name, value);
  }
  return element;
}

function drawRound(number, drawn, lengthMs, top, here) {
  const width = lengthMs / BIN_MS;
  const picture = svg("svg", {
    viewBox: `0 0 ${width * 10} 100`, preserveAspectRatio: "none", role: "img",
  });
  const totals = { red: [0, 0], blue: [0, 0] };
  for (const [bin, counts] of drawn ? drawn.bins : []) {
    for (const corner of ["red", "blue"]) {
      const [thrown, landed] = counts[corner];
      totals[corner][0] += thrown;
      totals[corner][1] += landed;
      for (const [name, count] of [["thrown", thrown], ["landed", landed]]) {
        const height = (count / top) * 46;
        if (height > 0) {
          picture.append(svg("rect", {
            class: `${name} ${corner}`, x: bin * 10 + 1, width: 8, height,
            y: corner === "red" ? 50 - height : 50,
          }));
        }
      }
    }
  }
  for (const { corner, at } of drawn ? drawn.down : []) {
    const x = (at / BIN_MS) * 10;
    const y = corner === "red" ? 8 : 92;
    picture.append(svg("path", { class: "down", d: `M${x - 4} ${y}L${x} ${y - 7}L${x + 4} ${y}L${x} ${y + 7}Z` }));
  }
  picture.append(svg("line", { class: "axis", x1: 0, x2: width * 10, y1: 50, y2: 50 }));
  if (here !== null) {
    const x = (here / BIN_MS) * 10;
    picture.append(svg("line", { class: "here", x1: x, x2: x, y1: 0, y2: 100 }));
  }
  const down = drawn ? drawn.down.length : 0;
  picture.setAttribute("aria-label",
    `Round ${number}: red landed ${totals.red[1]} of ${totals.red[0]}, ` +
    `blue landed ${totals.blue[1]} of ${totals.blue[0]}${down ? `, knockdowns ${down}` : ""}`);
  return h("figure", { class: here !== null ? "now" : null }, picture, h("figcaption", null, `R${number}`));
}

// `now` = {round, elapsed}, or null.
function drawTimeline(box, strikes, plan, now) {
  const rounds = strikes.rounds(plan.roundMs);
  let last = plan.rounds;
  let top = 4;
  for (const [number, { bins }] of rounds) {
    last = Math.max(last, number);
    for (const counts of bins.values()) {
      top = Math.max(top, counts.red[0], counts.blue[0]);
    }
  }
  const figures = [];
  for (let number = 1; number <= last; number += 1) {
    figures.push(drawRound(number, rounds.get(number), plan.roundMs, top,
      now && now.round === number ? Math.min(now.elapsed, plan.roundMs) : null));
  }
  box.replaceChildren(...figures);
}
