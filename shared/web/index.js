// The card: its bouts, and which of them is on. Asks again every few seconds.
"use strict";

const EVERY_MS = 3000;

const stateWords = {
  ready: "not begun", running: "running", stopped: "clock stopped", rest: "rest", over: "over",
};

function boutRow(card, bout, pulse, counts) {
  const desks = pulse ? pulse.desks : [];
  const live = desks.some((desk) => desk.state === "live");
  const dead = desks.some((desk) => desk.state === "silent" || desk.state === "lost");
  const how = h("span", { class: "how" });
  if (counts) {
    const clock = counts.clock;
    how.append(
      h("b", null, h("small", null, "landed "), `${counts.red.landed} : ${counts.blue.landed}`),
      clock.state === "ready" || clock.state === "over"
        ? ` ${stateWords[clock.state]}`
        : ` round ${clock.round}, ${stateWords[clock.state]}`,
      counts.signed ? " · signed" : "", live ? " · desk open" : "");
    if (dead && clock.state !== "over") {
      how.append(" · ▲ desk not answering");
    }
  } else {
    how.append("not begun");
  }
  const name = (who, side) => h("b", { class: side, dir: "auto" }, who.name);
  return h("li", null,
    h("a", { href: `/bout/${encodeURIComponent(card.id)}/${bout.number}`, class: live ? "on" : null },
      h("span", { class: "number" }, h("span", { class: "unseen" }, "Bout "), `${bout.number}`),
      h("span", { class: "who" }, name(bout.red, "red"), " v ", name(bout.blue, "blue"),
        h("small", null, [bout.weight, bout.rules].filter(Boolean).join(" · "))),
      how));
}

function cardPart(card, pulses, counts) {
  return h("section", { class: "plate" },
    h("h1", { class: "title", dir: "auto" }, card.title || card.id),
    h("p", { class: "under" }, [card.date, card.venue].filter(Boolean).join(" · ")),
    h("ol", { class: "bouts" }, ...card.bouts.map((bout) => {
      const name = `${card.id}/${bout.number}`;
      return boutRow(card, bout, pulses.get(name), counts.get(name));
    })));
}

let drawn = "";

async function refresh() {
  try {
    const [cards, health] = await Promise.all([getJson("/v1/cards"), getJson("/health")]);
    const pulses = new Map(health.bouts.map((pulse) => [pulse.bout, pulse]));
    const counts = new Map();
    for (const pulse of health.bouts) {
      if (pulse.newest_entry_at) {
        counts.set(pulse.bout, await getJson(`/v1/bouts/${pulse.bout}/counts`));
      }
    }
    setLine("live", "live");
    alarm("line", null);
    const parts = cards.cards.map((card) => cardPart(card, pulses, counts));
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
