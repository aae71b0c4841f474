// A bout's page: listens to the feed's events, draws what they say, and says so when they stop.
"use strict";

const FETCH_MS = 1000; // between two readings of sheet and remarks
const CALLS = 12;

const parts = location.pathname.split("/");
const bout = `${parts[2]}/${parts[3]}`;
const base = `/v1/bouts/${bout}`;

const strikes = new Strikes();
let counts = null;
let sheet = null;
let desks = [];
let clock = null; // {state, round, remaining_ms, as_of}
let newestAt = null;
let scope = "bout";
let reading = false;
let again = false;
let said = null; // what the live region knows

// ---- Figures

function setScopes() {
  const rounds = sheet ? sheet.rounds.map((round) => round.round) : [];
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
    });
    const words = name === "bout" ? ["Whole bout", "bout"] : [`Round ${name}`, `R${name}`];
    input.setAttribute("aria-label", words[0]);
    return h("label", null, input, h("span", { "aria-hidden": "true" }, words[1]));
  }));
}

// The corners of the scope that is shown.
function shown() {
  if (scope !== "bout" && sheet) {
    const round = sheet.rounds.find((one) => String(one.round) === scope);
    if (round) {
      return round;
    }
  }
  return counts;
}

function plainRow(name, red, blue, big) {
  return h("div", { class: big ? "row big" : "row" },
    h("dt", null, name), h("dd", { class: "red" }, ...red), h("dd", { class: "blue" }, ...blue));
}

function barRow(name, red, blue, top) {
  const side = (corner, count) => {
    const full = h("i", null);
    const part = h("b", null);
    full.style.width = `${top ? (count.attempted / top) * 100 : 0}%`;
    part.style.width = `${top ? (count.landed / top) * 100 : 0}%`;
    return h("dd", { class: `${corner} bars` },
      h("output", null, ratio(count)), h("span", { class: "track", "aria-hidden": "true" }, full, part));
  };
  return h("div", { class: "row" }, h("dt", null, name), side("red", red), side("blue", blue));
}

function drawFigures(of) {
  const { red, blue } = of;
  const big = (corner) => [`${corner.landed}`, h("small", null, `\u2009/\u2009${corner.attempted}`)];
  const output = (corner) => [corner.output_per_min === null ? "–" : corner.output_per_min.toFixed(1)];
  const top = Math.max(1, ...["head", "body", "leg"].flatMap((target) =>
    [red.by_target[target].attempted, blue.by_target[target].attempted]));
  const rows = [
    plainRow("landed / thrown", big(red), big(blue), true),
    plainRow("accuracy", [percent(red.accuracy)], [percent(blue.accuracy)]),
    plainRow("thrown a minute", output(red), output(blue)),
    ...["head", "body", "leg"].map((target) => barRow(target, red.by_target[target], blue.by_target[target], top)),
    plainRow("knockdowns", [`${red.knockdowns}`], [`${blue.knockdowns}`]),
    plainRow("blocked", [`${red.blocked}`], [`${blue.blocked}`]),
  ];
  if (red.points_deducted + blue.points_deducted) {
    rows.push(plainRow("points deducted", [`${red.points_deducted}`], [`${blue.points_deducted}`]));
  }
  $("figures").replaceChildren(...rows);
}

// ---- Pads

const sum = (...all) => all.reduce((total, one) => ({
  attempted: total.attempted + one.attempted, landed: total.landed + one.landed,
}), { attempted: 0, landed: 0 });

// Columns of a corner, from the outside in as they lie under the tagger's hands.
function padColumns(corner, elbows) {
  const cells = corner.by_limb_target;
  const limb = (name) => (target) => cells[name][target];
  const knee = (target) => sum(cells.knee[target], cells.left_knee[target], cells.right_knee[target]);
  return [
    ["left leg", limb("left_leg")],
    ["left hand", limb("left_hand")],
    ...(elbows ? [["left elbow", limb("left_elbow")], ["right elbow", limb("right_elbow")]] : []),
    ["right hand", limb("right_hand")],
    ["right leg", limb("right_leg")],
    ["knee", knee],
  ];
}

function drawPad(name, corner, elbows, top) {
  const columns = padColumns(corner, elbows);
  if (name === "blue") {
    columns.unshift(columns.pop()); // its knees lie inside, next to red's
  }
  const cell = (count) => {
    if (!count.attempted) {
      return h("td", { class: "none" }, "·");
    }
    const fill = h("i", null);
    fill.style.height = `${(count.landed / top) * 100}%`;
    return h("td", null, fill, h("span", null, `${count.landed}`, h("small", null, `/${count.attempted}`)));
  };
  return h("table", { class: `pad ${name}` },
    h("caption", { class: name }, name.toUpperCase()),
    h("thead", null, h("tr", null, h("td", { class: "none" }), ...columns.map(([limb]) => h("th", { scope: "col" }, limb)))),
    h("tbody", null, ...["head", "body", "leg"].map((target) =>
      h("tr", null, h("th", { scope: "row" }, target), ...columns.map(([, of]) => cell(of(target)))))));
}

function drawPads(of) {
  const elbows = [of.red, of.blue].some((corner) => corner.by_group.elbows.attempted > 0);
  const all = [of.red, of.blue].flatMap((corner) => padColumns(corner, elbows).flatMap(([, count]) =>
    ["head", "body", "leg"].map((target) => count(target).landed)));
  const top = Math.max(4, ...all);
  $("pads").replaceChildren(drawPad("red", of.red, elbows, top), drawPad("blue", of.blue, elbows, top));
}

// ---- Rounds, remarks, desks

function drawRounds() {
  const now = clock && ["running", "stopped"].includes(clock.state) ? clock.round : 0;
  const cells = (corner, name) => [
    h("td", { class: name }, ratio(corner)),
    h("td", { class: name }, percent(corner.accuracy)),
    h("td", { class: `${name} more` }, corner.output_per_min === null ? "–" : corner.output_per_min.toFixed(1)),
    h("td", { class: name }, `${corner.knockdowns || "–"}`),
  ];
  const line = (label, of, mark) => h("tr", { class: mark ? "now" : null },
    h("th", { scope: "row" }, label), ...cells(of.red, "red"), ...cells(of.blue, "blue"));
  const heads = () => ["landed", "acc.", "per min", "kd"].map((name) =>
    h("th", { scope: "col", class: name === "per min" ? "more" : null }, name));
  $("rounds").replaceChildren(
    h("thead", null,
      h("tr", null, h("td"), h("th", { colspan: 4, scope: "colgroup", class: "red" }, "RED"),
        h("th", { colspan: 4, scope: "colgroup", class: "blue" }, "BLUE")),
      h("tr", null, h("td"), ...heads(), ...heads())),
    h("tbody", null, ...sheet.rounds.map((of) => line(`R${of.round}`, of, of.round === now)),
      line("bout", sheet.whole, false)));
}

function drawCalls(document) {
  const calls = document.remarks.slice(0, CALLS);
  $("calls").replaceChildren(...(calls.length
    ? calls.map((call) => h("li", { class: call.corner, dir: "auto" }, call.text))
    : [h("li", null, "Nothing stands out yet.")]));
  setText($("calls-note"), `${document.compared} comparisons were looked at. ${document.note}`);
}

const stateWords = {
  live: "at the desk", silent: "not answering", lost: "lost, it did not close", left: "closed",
  unknown: "not on this machine",
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
    ` unattended: desk ${desk.name} is ${stateWords[desk.state]}` +
    `${desk.seen_at ? ` since ${timeText(new Date(desk.seen_at))}` : ""}.`).join(" "));
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
  setText($("newest"), newestAt ? `newest entry ${ageText(line.now() - Date.parse(newestAt))} ago` : "no entry yet");
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

function draw() {
  if (!counts) {
    return;
  }
  const of = shown();
  drawFigures(of);
  drawPads(of);
  setText($("red-name"), counts.red.fighter);
  setText($("blue-name"), counts.blue.fighter);
  setText($("record"), `${counts.entries} entries · ${counts.corrections} corrected · ` +
    `${counts.review} flagged · ${counts.signed ? "signed" : "provisional"}`);
}

function drawHeading() {
  const heading = sheet.heading;
  const unbroken = (text) => text.replaceAll("-", "\u2011");
  const line = (who) => [who.stance, who.from, unbroken(who.record)].filter(Boolean).join(" · ");
  setText($("red-from"), line(heading.red));
  setText($("blue-from"), line(heading.blue));
  setText($("where"), [heading.card, `bout ${parts[3]}`, heading.weight, heading.rules].filter(Boolean).join(" · "));
  setText($("title"), `${heading.red.name} v ${heading.blue.name}`);
  document.title = `${heading.red.short_name || heading.red.name} v ${heading.blue.short_name || heading.blue.name} · ringtally`;
}

async function read() {
  if (reading) {
    again = true;
    return;
  }
  reading = true;
  try {
    const [newSheet, calls] = await Promise.all([getJson(`${base}/sheet`), getJson(`${base}/remarks`)]);
    sheet = newSheet;
    setScopes();
    drawHeading();
    drawRounds();
    drawCalls(calls);
    draw();
    drawTimeSoon();
  } catch (error) {
    again = true; // the stream says what is wrong with the line
  }
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
  return `Red landed ${red.landed} of ${red.attempted}, blue landed ${blue.landed} of ${blue.attempted}.`;
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
    counts = document;
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
  },
});

setInterval(drawClock, 250);
$("say").addEventListener("click", () => {
  setText($("said"), "");
  setTimeout(() => setText($("said"), counts ? totals() : "No figures yet"), 50);
});
for (const corner of ["red", "blue"]) {
  $(`coach-${corner}`).setAttribute("href", `/bout/${bout}/coach/${corner}`);
}
line.start();
