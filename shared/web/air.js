// An overlay: /air/CARD/NUMBER/KIND or /air/now/KIND with KIND strip, panel, bug or remark, over a
// transparent ground. Words behind it choose the rest:
//   figure=landed attempted accuracy output knockdowns blocked head body leg   of a strip (landed)
//   scope=bout round minute         what is counted (bout; of a panel the round)
//   at=bottom-left top-right ...    where it stands (as the kind has it)
//   old=off mark                    a figure older than 3 s, a lost line: taken off (off), or marked
//   show=always bell                a panel all the time, or while the clock rests (always)
//   held=mark off                  "held for review" where something is held back (mark)
//   safe=0 .. 20                    percent kept free all around (5)
// Size is the browser source's own: everything is in parts of its height.
"use strict";

const OLD_MS = 3000;
const words = new URLSearchParams(location.search);
const path = location.pathname.split("/"); // "", "air", CARD, NUMBER, KIND or "", "air", "now", KIND
const current = path[2] === "now";
const kind = current ? path[3] : path[4];
const base = current ? "/v1/now" : `/v1/bouts/${path[2]}/${path[3]}`;
const one = (name, allowed) => (allowed.includes(words.get(name)) ? words.get(name) : allowed[0]);
const figure = one("figure", ["landed", "attempted", "accuracy", "output", "knockdowns", "blocked", "head", "body", "leg"]);
const scope = kind === "panel" ? one("scope", ["round", "bout"]) : one("scope", ["bout", "round", "minute"]);
const old = one("old", ["off", "mark"]);
const held = one("held", ["mark", "off"]);
const show = one("show", ["always", "bell"]);
const places = { strip: "bottom", panel: "middle", bug: "top-left", remark: "bottom-left" };
const limbWords = { left_leg: "left leg", left_hand: "left hand", left_elbow: "left elbow", right_elbow: "right elbow", right_hand: "right hand", right_leg: "right leg", knee: "knee" };

let counts = null;
let pad = null; // counts of the round, for a panel
let minute = null;
let remark = null;
let limbs = null;
let aheadOf = ""; // what was asked for last stands for
let behindAt = null; // performance.now() since when it is older than the counts
let unattended = false; // a desk that is official does not answer while the clock runs
let heardAt = -OLD_MS; // performance.now() of the last event that says how things stand
let drawn = "";

$("air").dataset.at = (words.get("at") || places[kind] || "").replace("-", " ");
if (/^([0-9]|1[0-9]|20)$/.test(words.get("safe") || "")) {
  document.documentElement.style.setProperty("--safe-x", words.get("safe"));
  document.documentElement.style.setProperty("--safe-y", words.get("safe"));
}

const nameOf = (corner) => corner.short_name || corner.fighter;
const roundNow = () => counts.rounds.find((of) => of.round === counts.clock.round) || null;

// The scope's two corners, and its running time.
function scoped() {
  return scope === "minute" ? minute : scope === "round" ? roundNow() : counts;
}

function cell(of, name) {
  const corner = of[name];
  if (corner.attempted === null) {
    return ["–"];
  }
  const part = (count) => [`${count.landed}`, h("small", null, `/${count.attempted}`)];
  return {
    landed: () => part(corner),
    attempted: () => [`${corner.attempted}`],
    accuracy: () => [accuracy(corner), h("small", null, ` of ${corner.attempted}`)],
    output: () => [output(corner, of.running_ms)],
    knockdowns: () => [`${corner.knockdowns}`],
    blocked: () => [`${corner.blocked}`],
    head: () => part(corner.by_target.head),
    body: () => part(corner.by_target.body),
    leg: () => part(corner.by_target.leg),
  }[figure]();
}

const figureWords = {
  landed: "landed of attempted", attempted: "attempted", accuracy: "accuracy", output: "attempted a minute",
  knockdowns: "knockdowns", blocked: "blocked", head: "to the head", body: "to the body", leg: "to the leg",
};
const scopeWords = () => ({ bout: "", round: `round ${counts.clock.round}`, minute: "last minute" }[scope]);

function side(name, of) {
  return h("div", { class: `side ${name}` }, h("b", { dir: "auto" }, nameOf(counts[name])),
    h("span", { class: "big" }, ...cell(of, name)));
}

function drawStrip() {
  const of = scoped();
  return of && h("div", { class: "box strip" }, side("red", of),
    h("div", { class: "word" }, figureWords[figure], ...(scopeWords() ? [h("br"), scopeWords()] : [])), side("blue", of));
}

function drawBug() {
  const { clock } = counts;
  const state = { ready: "", running: `R${clock.round}`, stopped: `R${clock.round} stopped`, rest: "rest", over: "over" };
  const plain = (name) => h("div", { class: `side ${name}` }, h("b", { dir: "auto" }, nameOf(counts[name])),
    h("span", { class: "big" }, known(counts[name].landed).replace("?", "–")));
  return h("div", { class: "box bug" }, plain("red"),
    h("div", { class: "clock" }, h("b", null, clockText(leftNow())), h("span", null, state[clock.state])), plain("blue"));
}

function columns(corner) {
  const cells = corner.by_limb_target;
  const add = (...all) => all.reduce((sum, count) => (count.attempted === null ? count : {
    attempted: sum.attempted + count.attempted, landed: sum.landed + count.landed,
  }), { attempted: 0, landed: 0 });
  return Object.keys(limbWords).filter((limb) => !limbs || limbs.includes(limb) ||
    (limb === "knee" && limbs.some((name) => name.endsWith("knee")))).map((limb) => [limbWords[limb], (target) =>
    (limb === "knee" ? add(cells.knee[target], cells.left_knee[target], cells.right_knee[target]) : cells[limb][target])]);
}

function drawPanel() {
  const of = scope === "round" ? pad : counts;
  if (!of || (show === "bell" && !["rest", "over"].includes(counts.clock.state))) {
    return null;
  }
  const targets = ["head", "body", "leg"].filter((target) => target !== "leg" || !limbs || limbs.includes("left_leg"));
  const top = Math.max(4, ...["red", "blue"].flatMap((name) => columns(of[name]).flatMap(([, count]) =>
    targets.map((target) => count(target).landed || 0))));
  const half = (name) => {
    const list = columns(of[name]);
    if (name === "blue" && list.length && list[list.length - 1][0] === "knee") {
      list.unshift(list.pop());
    }
    const box = (count) => {
      if (!count.attempted) {
        return h("td", { class: "none" }, count.attempted === null ? "–" : "·");
      }
      const fill = h("i");
      fill.style.height = `${(count.landed / top) * 100}%`;
      return h("td", null, fill, h("span", null, ...landedOf(count)));
    };
    return h("div", { class: `half ${name}` },
      h("div", { class: "top" }, h("b", { dir: "auto" }, nameOf(of[name])),
        h("span", { class: "big" }, ...(of[name].attempted === null ? ["–"]
          : [`${of[name].landed}`, h("small", null, `/${of[name].attempted}`)]))),
      h("table", null, h("tr", null, h("td", { class: "none" }), ...list.map(([limb]) => h("th", { scope: "col" }, limb))),
        ...targets.map((target) => h("tr", null, h("th", { scope: "row" }, target), ...list.map(([, count]) => box(count(target)))))),
      h("div", { class: "foot" }, h("span", null, "accuracy ", h("b", null, of[name].attempted === null ? "–" : accuracy(of[name]))),
        h("span", null, "knockdowns ", h("b", null, known(of[name].knockdowns).replace("?", "–")))));
  };
  return h("div", { class: "box panel" },
    h("h1", null, scope === "round" ? `Round ${of.round}: landed of attempted` : "Landed of attempted"),
    h("div", { class: "both" }, half("red"), half("blue")));
}

function drawRemark() {
  return remark && h("div", { class: `box remark ${remark.corner || ""}` }, sentence(remark.text, counts));
}

function leftNow() {
  const { clock } = counts;
  const runs = (clock.state === "running" || clock.state === "rest") && performance.now() - heardAt < OLD_MS;
  return Math.max(0, clock.remaining_ms - (runs ? Math.max(0, line.now() - Date.parse(counts.as_of)) : 0));
}

// What stands changes only where something differs; a figure that has not changed does not move.
function draw() {
  if (!counts) {
    return;
  }
  const late = performance.now() - heardAt > OLD_MS || document.body.dataset.line === "cut" || unattended ||
    (behindAt !== null && performance.now() - behindAt > OLD_MS);
  const box = { strip: drawStrip, bug: drawBug, panel: drawPanel, remark: drawRemark }[kind]();
  const air = $("air");
  if (box) {
    if (held === "mark" && heldText(counts.gate)) {
      box.append(h("div", { class: "held" }, "held for review"));
    }
    box.append(h("div", { class: "when" }, `not live since ${timeText(new Date(Date.now() - (performance.now() - heardAt)))}`));
    if (!(late && drawn) && box.outerHTML !== drawn) {
      drawn = box.outerHTML;
      air.replaceChildren(box);
    }
  }
  air.classList.toggle("old", late && old === "mark");
  air.hidden = !box || (late && old === "off");
}

// What the events do not bring: limbs, a round's pad, the last minute, a remark.
let reading = false;
async function read() {
  const slides = scope === "minute" && counts && counts.clock.state === "running" ? Math.floor(line.now() / 1000) : "";
  const asked = counts && `${counts.entries} ${counts.clock.state} ${counts.clock.round} ${slides} ${JSON.stringify(counts.gate)}`;
  if (!counts || aheadOf === asked || !(["panel", "remark"].includes(kind) || scope === "minute")) {
    return;
  }
  behindAt = behindAt === null ? performance.now() : behindAt;
  if (reading) {
    return;
  }
  reading = true;
  try {
    if (!limbs) {
      limbs = (await getJson(`${base}/sheet`)).heading.limbs;
    }
    if (kind === "panel" && scope === "round") {
      pad = await getJson(`${base}/counts?round=${counts.clock.round}`);
    } else if (scope === "minute") {
      minute = await getJson(`${base}/counts?last=60`);
    }
    if (kind === "remark") {
      remark = (await getJson(`${base}/remarks`)).remarks[0] || null;
    }
    aheadOf = asked;
    behindAt = null;
  } catch (error) {
    // the next turn asks again; the line says when it is cut
  }
  reading = false;
  draw();
}

function watchDesks({ desks, clock }) {
  unattended = clock.state === "running" &&
    desks.some((desk) => desk.official_for.length > 0 && ["silent", "lost"].includes(desk.state));
}

const line = new Line(base, {
  counts(document) {
    watchDesks(document);
    if (counts && counts.bout !== document.bout) {
      location.reload();
      return;
    }
    counts = document;
    heardAt = performance.now();
    draw();
    read();
  },
  beat(document) {
    watchDesks(document);
    heardAt = performance.now();
    if (counts) {
      counts.clock = document.clock;
      counts.as_of = document.heartbeat;
    }
    draw();
  },
});

setInterval(() => {
  draw();
  read();
}, 100);
line.rest = () => {}; // a mixer that does not show a source tells it that it is hidden: it stays ready
line.start();
