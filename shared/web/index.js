// The card: its bouts, and which of them is on. Asks again every few seconds.
"use strict";

const EVERY_MS = 3000;

const stateWords = {
  ready: "not begun", running: "running", stopped: "clock stopped", rest: "rest", over: "over",
};

function boutRow(card, bout, pulse, { head, old } = {}) {
  const desks = pulse ? pulse.desks : [];
  const live = desks.some((desk) => desk.state === "live");
  const dead = desks.some((desk) => desk.state === "silent" || desk.state === "lost");
  const how = h("span", { class: "how" });
  if (head) {
    const { clock, whole } = head;
    how.append(
      h("b", null, h("small", null, "landed "), `${whole.red.landed} : ${whole.blue.landed}`),
      clock.state === "ready" || clock.state === "over"
        ? ` ${stateWords[clock.state]}`
        : ` round ${clock.round}, ${stateWords[clock.state]}`,
      head.signed ? " · signed" : "", heldText(head.gate) ? " · held for review" : "", live ? " · desk open" : "");
    if (dead && clock.state !== "over") {
      how.append(" · ▲ desk not answering");
    }
    if (old) {
      how.append(" · ▲ not up to date");
    }
  } else if (old) {
    how.append("▲ no answer");
  } else {
    how.append("not begun");
  }
  const name = (who, side) => h("b", { class: side, dir: "auto" }, who.name);
  return h("li", null,
    h("a", { href: `/bout/${encodeURIComponent(card.id)}/${bout.number}`, class: live ? "on" : null },
      h("span", { class: "number" }, h("span", { class: "unseen" }, "Bout "), `${bout.number}`),
      h("span", { class: "who" }, name(bout.red, "red"), " v ", name(bout.blue, "blue"),
        h("small", null, ...isolated([bout.weight, bout.rules]))),
      how));
}

function cardPart(card, pulses, heads) {
  return h("section", { class: "plate" },
    h("h1", { class: "title", dir: "auto" }, card.title || card.id),
    h("p", { class: "under" }, ...isolated([card.date, card.venue])),
    h("ol", { class: "bouts" }, ...card.bouts.map((bout) => {
      const name = `${card.id}/${bout.number}`;
      return boutRow(card, bout, pulses.get(name), heads.get(name));
    })));
}

const heads = new Map(); // bout: {head, old, newest}
let drawn = "";

// Asks for the bouts that may have changed; one that gives no answer is marked, the others stand.
async function readHeads(pulses) {
  await Promise.allSettled(pulses.filter((pulse) => pulse.newest_entry_at).map(async (pulse) => {
    const known = heads.get(pulse.bout);
    const live = pulse.desks.some((desk) => desk.state === "live" || desk.state === "silent");
    if (known && !known.old && !live && known.newest === pulse.newest_entry_at && known.head.clock.state === "over") {
      return;
    }
    try {
      heads.set(pulse.bout, { head: await getJson(`/v1/bouts/${pulse.bout}/headline`), old: false, newest: pulse.newest_entry_at });
    } catch (error) {
      heads.set(pulse.bout, { ...known, old: true });
    }
  }));
}

async function refresh() {
  try {
    const [cards, health] = await Promise.all([getJson("/v1/cards"), getJson("/health")]);
    const pulses = new Map(health.bouts.map((pulse) => [pulse.bout, pulse]));
    await readHeads(health.bouts);
    setLine("live", "live");
    alarm("line", null);
    const parts = cards.cards.map((card) => cardPart(card, pulses, heads));
    const older = parts.splice(1);
    if (older.length) {
      parts.push(h("details", null, h("summary", null, `${older.length} older`), ...older));
    }
    const box = h("div", null, ...(parts.length ? parts : [h("p", null, "No card is loaded yet.")]));
    if (box.innerHTML !== drawn) { // keeps the focus where it is while nothing changes
      const focus = document.activeElement && document.activeElement.getAttribute("href");
      const open = $("cards").querySelector("details[open]");
      drawn = box.innerHTML;
      $("cards").replaceChildren(...box.childNodes);
      if (open && $("cards").querySelector("details")) {
        $("cards").querySelector("details").open = true;
      }
      const again = focus && [...$("cards").querySelectorAll("a")].find((a) => a.getAttribute("href") === focus);
      if (again) {
        again.focus();
      }
    }
  } catch (error) {
    setLine("cut", "line cut");
    alarm("line", `No answer from the feed: ${error.status ? error.message : "the line is cut"}. What is below may be old.`);
  }
  setTimeout(refresh, document.hidden ? 4 * EVERY_MS : EVERY_MS);
}

refresh();
worker();
