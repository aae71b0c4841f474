// A bout's page: listens to the feed's events, draws what they say, and says so when they stop.
"use strict";

const FETCH_MS = 1000; // between two readings of sheet and remarks
const BEHIND_MS = 3000; // that they may be older than the counts
const CALLS = 12;

// "/now" is the bout that is on, whichever; else "/bout/CARD/NUMBER".
const parts = location.pathname.split("/");
const current = parts[1] === "now";
const base = current ? "/v1/now" : `/v1/bouts/${parts[2]}/${parts[3]}`;
const kept = `ringtally ${base}`; // the last figures, for when there is no line

const strikes = new Strikes();
let counts = null;
let sheet = null;
let sheetOf = -1; // entries of the counts when sheet and remarks were asked for
let callsOf = -1;
let behindAt = null; // performance.now() since when they are older than the counts
const AHEAD_MS = 5000;
let desks = [];
let clock = null; // {state, round, remaining_ms, as_of}
let newestAt = null;
let scope = "bout";
let reading = false;
let again = false;
let said = null; // what the live region knows

// ---- Figures

function setScopes() {
  const rounds = counts ? counts.rounds.map((round) => round.round) : [];
  const wanted = ["bout", ...rounds.map(String)];
  const box = $("scope");
  if (box.dataset.scopes === wanted.join()) {
    return;
  }
  box.dataset.scopes = wanted.join();
  if (!wanted.includes(scope)) {
    scope = "bout";
  }
  box.replaceChildren(h("legend", null, "of"), ...wanted.map((name) => {
    const input = h("input", {
      type: "radio", name: "scope", value: name, class: "unseen", checked: name === scope,
    });
    input.addEventListener("change", () => {
      scope = name;
      draw();
      read();
    });
    const words = name === "bout" ? ["Whole bout", "bout"] : [`Round ${name}`, `R${name}`];
    input.setAttribute("aria-label", words[0]);
    return h("label", null, input, h("span", { "aria-hidden": "true" }, words[1]));
  }));
}

// The scope that is shown. Its figures come with every event; what a round's pad needs, with the
// sheet.
function shown() {
  return (scope !== "bout" && counts.rounds.find((one) => String(one.round) === scope)) || counts;
}

function padOf(of) {
  return of === counts ? counts : sheet && sheet.rounds.find((one) => one.round === of.round);
}

function plainRow(name, red, blue, big) {
  return h("div", { class: big ? "row big" : "row" },
    h("dt", null, name), h("dd", { class: "red" }, ...red), h("dd", { class: "blue" }, ...blue));
}

function drawFigures(of) {
  const { red, blue } = of;
  const big = (corner) => (untagged(corner) ? [h("small", null, "not tagged")]
    : [`${corner.landed}`, h("small", null, `\u2009/\u2009${corner.attempted}`)]);
  const rows = [
    plainRow("landed / attempted", big(red), big(blue), true),
    plainRow("accuracy", [accuracy(red)], [accuracy(blue)]),
    plainRow("output: attempted a minute", [output(red, of.running_ms)], [output(blue, of.running_ms)]),
    plainRow("knockdowns", [known(red.knockdowns)], [known(blue.knockdowns)]),
    plainRow("blocked", [known(red.blocked)], [known(blue.blocked)]),
  ];
  if (red.points_deducted + blue.points_deducted) {
    rows.push(plainRow("points deducted", [`${red.points_deducted}`], [`${blue.points_deducted}`]));
  }
  $("figures").replaceChildren(...rows);
}

// ---- Pads

const sum = (...all) => all.reduce((total, one) => (one.attempted === null ? one : {
  attempted: total.attempted + one.attempted, landed: total.landed + one.landed,
}), { attempted: 0, landed: 0 });

const TARGETS = ["head", "body", "leg"];

// Columns of a corner, from the outside in as they lie under the tagger's hands: the limbs that the
// rules know, and what was thrown all the same.
function padColumns(corner) {
  const cells = corner.by_limb_target;
  const limb = (name) => (target) => cells[name][target];
  const knee = (target) => sum(cells.knee[target], cells.left_knee[target], cells.right_knee[target]);
  const known = (...names) => names.some((name) => !sheet || sheet.heading.limbs.includes(name) ||
    TARGETS.some((target) => cells[name][target].attempted));
  return [
    ["left leg", limb("left_leg"), known("left_leg")],
    ["left hand", limb("left_hand"), known("left_hand")],
    ["left elbow", limb("left_elbow"), known("left_elbow")],
    ["right elbow", limb("right_elbow"), known("right_elbow")],
    ["right hand", limb("right_hand"), known("right_hand")],
    ["right leg", limb("right_leg"), known("right_leg")],
    ["knee", knee, known("knee", "left_knee", "right_knee")],
  ].filter(([, , there]) => there);
}

function drawPad(name, corner, totals, rows, top) {
  const columns = padColumns(corner);
  if (name === "blue" && columns[columns.length - 1][0] === "knee") {
    columns.unshift(columns.pop()); // its knees lie inside, next to red's
  }
  const cell = (count) => {
    if (count.attempted === null) {
      return h("td", { class: "none" }, "?");
    }
    if (!count.attempted) {
      return h("td", { class: "none" }, "·");
    }
    const fill = h("i", null);
    fill.style.height = `${(count.landed / top) * 100}%`;
    return h("td", null, fill, h("span", null, ...landedOf(count)));
  };
  return h("table", { class: `pad ${name}` },
    h("caption", { class: name }, name.toUpperCase()),
    h("thead", null, h("tr", null, h("td", { class: "none" }), ...columns.map(([limb]) => h("th", { scope: "col" }, limb)))),
    h("tbody", null, ...rows.map((target) =>
      h("tr", null, h("th", { scope: "row" }, target, h("small", null, ...broken(ratio(totals.by_target[target])))),
        ...columns.map(([, of]) => cell(of(target)))))));
}

function drawPads(of) {
  const pad = padOf(of);
  if (!pad) {
    $("pads").replaceChildren(h("p", { class: "note" }, "The pad of this round is on its way."));
    return;
  }
  const both = [pad.red, pad.blue];
  const legs = both.some((corner) => padColumns(corner).some(([, count]) => count("leg").attempted)) ||
    !sheet || sheet.heading.limbs.includes("left_leg");
  const rows = TARGETS.filter((target) => target !== "leg" || legs);
  const all = both.flatMap((corner) => padColumns(corner).flatMap(([, count]) =>
    rows.map((target) => count(target).landed)));
  const top = Math.max(4, ...all);
  $("pads").replaceChildren(drawPad("red", pad.red, of.red, rows, top), drawPad("blue", pad.blue, of.blue, rows, top));
}

// ---- Rounds, remarks, desks

function drawRounds() {
  const now = clock && ["running", "stopped"].includes(clock.state) ? clock.round : 0;
  const cells = (of, name) => [
    h("td", { class: name }, ratio(of[name])),
    h("td", { class: name }, accuracy(of[name])),
    h("td", { class: `${name} more` }, output(of[name], of.running_ms)),
    h("td", { class: name }, known(of[name].knockdowns)),
  ];
  const line = (label, of, mark) => h("tr", { class: mark ? "now" : null },
    h("th", { scope: "row" }, label), ...cells(of, "red"), ...cells(of, "blue"));
  const heads = () => ["landed", "accu\u00adracy", "output", "knock\u00addowns"].map((name) =>
    h("th", { scope: "col", class: name === "output" ? "more" : null }, name));
  $("rounds").replaceChildren(
    h("thead", null,
      h("tr", null, h("td"), h("th", { colspan: 4, scope: "colgroup", class: "red" }, "RED"),
        h("th", { colspan: 4, scope: "colgroup", class: "blue" }, "BLUE")),
      h("tr", null, h("td"), ...heads(), ...heads())),
    h("tbody", null, ...counts.rounds.map((of) => line(`R${of.round}`, of, of.round === now)),
      line("bout", counts, false)));
}

// A finding never stands without its interval.
function sureness({ evidence }) {
  if (!evidence) {
    return null;
  }
  const points = evidence.measure === "difference";
  const figure = (value) => `${value < 0 ? "−" : "+"}${Math.abs(points ? 100 * value : value).toFixed(points ? 0 : 1)}`;
  return h("small", null, `${figure(evidence.value)} ${points ? "points" : "a minute"}, interval ${figure(evidence.low)} to ${figure(evidence.high)}`);
}

function drawCalls(document) {
  const calls = document.remarks.slice(0, CALLS);
  $("calls").replaceChildren(...(calls.length
    ? calls.map((call) => h("li", { class: call.corner }, sentence(call.text, counts), sureness(call)))
    : [h("li", null, "Nothing stands out yet.")]));
  const looked = document.compared + document.setups_compared;
  setText($("calls-note"), document.bell
    ? `At the bell of round ${document.bell} ${looked} ${looked === 1 ? "figure was" : "figures were"} looked at. ${document.note}`
    : "Facts so far: findings are formed when a round is over.");
}

const stateWords = {
  live: "at the desk", silent: "not answering", lost: "lost, it did not close", left: "closed",
  unknown: "not on this machine",
};

const goneWords = {
  silent: "does not answer", lost: "is lost: it did not close", left: "is closed", unknown: "is not on this machine",
};

function bouted() {
  return clock && clock.state !== "over" && (clock.state !== "ready" || newestAt);
}

function drawDesks() {
  const on = bouted() && !(counts && counts.signed);
  $("desks").replaceChildren(...desks.map((desk) => {
    const what = desk.official_for.length ? `official for ${desk.official_for.join(", ")}` : "as a check";
    const off = on && desk.official_for.length > 0 && desk.state !== "live";
    return h("li", { class: off ? "off" : desk.state === "live" ? null : "past" },
      h("b", { dir: "auto" }, desk.name), h("span", null, what),
      h("span", { class: "state" }, stateWords[desk.state],
        desk.state === "live" || desk.seen_at === null ? "" : `, last seen ${timeText(new Date(desk.seen_at))}`));
  }));
  const dead = on ? desks.filter((desk) => desk.official_for.length > 0 && desk.state !== "live") : [];
  alarm("desks", dead.map((desk) =>
    `${desk.official_for.map((office) => (office === "clock" ? "the clock" : office.toUpperCase())).join(", ")}` +
    ` unattended: desk ${desk.name} ${goneWords[desk.state]}` +
    `${desk.seen_at ? `, last seen ${timeText(new Date(desk.seen_at))}` : ""}.`).join(" "));
}

// ---- Time

function drawClock() {
  if (!clock) {
    return;
  }
  const runs = clock.state === "running" || clock.state === "rest";
  const passed = runs && document.body.dataset.line === "live" ? line.now() - Date.parse(clock.as_of) : 0;
  const left = Math.max(0, clock.remaining_ms - Math.max(0, passed));
  const words = {
    ready: "not begun", running: `round ${clock.round}`, stopped: `round ${clock.round}, clock stopped`,
    rest: `rest after round ${clock.round}`, over: "over",
  };
  setText($("clock"), clockText(left));
  setText($("round"), words[clock.state]);
  const age = newestAt ? line.now() - Date.parse(newestAt) : 0;
  const ahead = age < -AHEAD_MS;
  $("newest").className = ahead ? "odd" : "";
  setText($("newest"), !newestAt ? "no entry yet" : ahead
    ? `▲ newest entry ${ageText(-age)} ahead of time: a machine's clock is wrong, or a script was played`
    : `newest entry ${ageText(age)} ago`);
}

function drawTime() {
  if (!sheet) {
    return;
  }
  const plan = { rounds: sheet.heading.rounds, roundMs: sheet.heading.round_ms };
  let now = null;
  if (clock && (clock.state === "running" || clock.state === "stopped")) {
    now = { round: clock.round, elapsed: plan.roundMs - clock.remaining_ms };
  }
  drawTimeline($("time"), strikes, plan, now);
  setText($("bin"), `a bar: ${BIN_MS / 1000} seconds`);
}

let timeDue = false;
function drawTimeSoon() {
  if (!timeDue) {
    timeDue = true;
    setTimeout(() => {
      timeDue = false;
      drawTime();
    }, 150);
  }
}

// ---- All of it

function announcedText({ kind, winner, vote, round }) {
  const words = [kind.replaceAll("_", " "), winner ? winner.toUpperCase() : null,
    vote ? `${vote.red}-${vote.blue}${vote.even ? `-${vote.even}` : ""}` : null, round ? `round ${round}` : null];
  return `Announced: ${words.filter(Boolean).join(", ")}`;
}

function standing() {
  if (!counts.signed) {
    return "provisional";
  }
  const at = new Date(counts.signed_at);
  return `signed by ${counts.signed_by}, ${at.toLocaleDateString("en-GB")} ${timeText(at)}`;
}

function draw() {
  if (!counts) {
    return;
  }
  setScopes();
  const of = shown();
  drawFigures(of);
  drawPads(of);
  drawRounds();
  drawCoverage();
  setText($("red-name"), counts.red.fighter);
  setText($("blue-name"), counts.blue.fighter);
  setText($("record"), `${counts.entries} entries · ${counts.corrections} corrected · ` +
    `${counts.review} flagged · ${standing()}`);
  setText($("notice"), counts.notice);
  setText($("gate"), [heldText(counts.gate), lateText(counts.gate)].filter(Boolean).join(" "));
  $("gate").hidden = !$("gate").textContent;
  $("result").hidden = !counts.announced;
  setText($("result"), counts.announced ? announcedText(counts.announced) : "");
  line.word = counts.signed ? "signed" : clock && clock.state === "over" ? "over" : "live";
  for (const corner of ["red", "blue"]) {
    $(`coach-${corner}`).setAttribute("href", `/bout/${counts.bout}/coach/${corner}`);
  }
}

// A corner that nobody tags is an alarm; time that nobody saw stays a note beside the figures, once
// somebody is there again (while nobody is, the desk's own alarm says so).
function drawCoverage() {
  const bare = [];
  const notes = [];
  for (const corner of ["red", "blue"]) {
    const gaps = counts[corner].gaps || [];
    if (untagged(counts[corner])) {
      bare.push(`${corner.toUpperCase()} is not tagged: its figures are unknown, not zero.`);
    } else if (gaps.length) {
      const spans = gaps.slice(0, 4).map((gap) => `R${gap.round} ${elapsedText(gap.from_ms)}–${elapsedText(gap.to_ms)}`);
      notes.push(`${corner.toUpperCase()} was not tagged ${spans.join(", ")}${gaps.length > 4 ? " and later" : ""}: strikes may be missing.`);
    }
  }
  alarm("coverage", bouted() && bare.length ? bare.join(" ") : null);
  setText($("gaps"), [...(bouted() ? [] : bare), ...notes].join(" "));
  $("gaps").hidden = !$("gaps").textContent;
}

function drawHeading() {
  const heading = sheet.heading;
  const unbroken = (text) => text.replaceAll("-", "\u2011");
  const from = (who) => isolated([who.stance, unbroken(who.record), who.from]);
  $("red-from").replaceChildren(...from(heading.red));
  $("blue-from").replaceChildren(...from(heading.blue));
  $("where").replaceChildren(...isolated([heading.card, `bout ${sheet.bout.split("/")[1]}`, heading.weight, heading.rules]));
  setText($("title"), `${heading.red.name} v ${heading.blue.name}`);
  document.title = `${heading.red.short_name || heading.red.name} v ${heading.blue.short_name || heading.blue.name} · ringtally`;
}

// The totals come by the stream; sheet and remarks are asked for, and an answer may stay away (a
// browser opens six connections to one host, and each page's stream is one).
function drawBehind() {
  const wanted = scope === "bout" ? callsOf : Math.min(callsOf, sheetOf);
  if (!counts || wanted >= counts.entries) {
    behindAt = null;
  } else if (behindAt === null) {
    behindAt = performance.now();
  }
  const old = behindAt !== null && performance.now() - behindAt > BEHIND_MS;
  document.body.dataset.part = old ? "old" : "new";
  alarm("behind", old ? "What is hatched below is older than the totals: the feed does not answer this page. " +
    "Are many pages open on it?" : null);
}

async function read() {
  if (reading) {
    again = true;
    return;
  }
  reading = true;
  const entries = counts ? counts.entries : -1;
  const round = counts ? counts.clock.round : -1;
  try {
    const result = (document) => JSON.stringify(document.announced);
    const whole = !sheet || sheetOf < 0 || result(sheet) !== result(counts) || (counts.announced && entries !== sheetOf) || scope !== "bout" || sheet.signed !== counts.signed || sheet.clock.round !== round;
    const [newSheet, calls] = await Promise.all([whole ? getJson(`${base}/sheet`) : sheet, getJson(`${base}/remarks`)]);
    sheet = newSheet;
    callsOf = entries;
    sheetOf = whole ? entries : sheetOf;
    drawHeading();
    drawCards($("cards"), sheet.officials);
    drawCalls(calls);
    draw();
    drawTimeSoon();
  } catch (error) {
    again = true; // drawBehind says so where it lasts
  }
  drawBehind();
  setTimeout(() => {
    reading = false;
    if (again) {
      again = false;
      read();
    }
  }, FETCH_MS);
}

// What one hears: the start and the end of rounds, and knockdowns.
function speak() {
  const now = `${clock.state} ${clock.round} ${counts.red.knockdowns} ${counts.blue.knockdowns}`;
  if (said !== null && said.now !== now) {
    if (counts.red.knockdowns > said.red || counts.blue.knockdowns > said.blue) {
      setText($("said"), `Knockdown scored by ${counts.red.knockdowns > said.red ? "red" : "blue"}`);
    } else if (said.state !== clock.state) {
      setText($("said"), clock.state === "running" ? `Round ${clock.round} runs` : `${$("round").textContent}. ${totals()}`);
    }
  }
  said = { now, state: clock.state, red: counts.red.knockdowns, blue: counts.blue.knockdowns };
}

function totals() {
  const { red, blue } = shown();
  const words = (name, corner) => (untagged(corner) ? `${name} is not tagged`
    : `${name} landed ${corner.landed} of ${corner.attempted}`);
  return `${words("Red", red)}, ${words("blue", blue)}.`;
}

// ---- The line

function takeSigns(document, asOf) {
  desks = document.desks;
  newestAt = document.newest_entry_at;
  clock = { ...document.clock, as_of: asOf };
  drawDesks();
  drawClock();
}

async function readLog() {
  const log = await getJson(`${base}/log`);
  strikes.known.clear();
  log.entries.forEach((entry) => strikes.take(entry));
  drawTimeSoon();
  return log.next;
}

const line = new Line(base, {
  begin: readLog,
  counts(document) {
    if (counts && counts.bout !== document.bout) {
      location.reload(); // another bout is on
      return;
    }
    counts = document;
    keep();
    takeSigns(document, document.as_of);
    draw();
    speak();
    drawTimeSoon();
    read();
  },
  beat(document) {
    takeSigns(document, document.heartbeat);
  },
  entry(entry) {
    if (strikes.take(entry)) {
      readLog().catch(() => {}); // the line says what is wrong with it
    } else {
      drawTimeSoon();
    }
  },
  anew() {
    strikes.known.clear();
    sheetOf = callsOf = -1; // what was released, or is held now, is in them too
  },
});

// ---- Without a line: the last figures that this device saw, marked as such

function keep() {
  try {
    localStorage.setItem(kept, JSON.stringify({ at: Date.now(), counts }));
  } catch (ignored) {
    // no room, or not allowed: then there are none
  }
}

function showKept() {
  let last = null;
  try {
    last = JSON.parse(localStorage.getItem(kept));
  } catch (ignored) {
    return;
  }
  if (last && last.counts && last.counts.rounds && !counts) {
    counts = last.counts;
    desks = counts.desks;
    newestAt = counts.newest_entry_at;
    clock = { ...counts.clock, as_of: counts.as_of };
    alarm("kept", `Nothing new yet: what is below was seen on this device on ${new Date(last.at).toLocaleString("en-GB")}.`);
    document.body.dataset.line = "cut";
    draw();
    drawClock();
    counts = null;
  }
}

setInterval(() => {
  drawClock();
  drawBehind();
}, 250);
$("say").addEventListener("click", () => {
  setText($("said"), "");
  setTimeout(() => setText($("said"), counts ? totals() : "No figures yet"), 50);
});
showKept();
line.start();
worker();
