// The judges' cards, once a result is announced: a row a judge, a column a round, as written.
"use strict";

function drawCards(box, officials) {
  box.hidden = !officials || !officials.cards.length;
  if (box.hidden) {
    return;
  }
  const rounds = [...new Set(officials.cards.flatMap((card) => card.scores.map((score) => score.round)))].sort((a, b) => a - b);
  const points = (score) => (score ? [h("span", { class: "red" }, `${score.red}`), "–", h("span", { class: "blue" }, `${score.blue}`)] : ["·"]);
  const notes = [officials.differs, officials.not_compared, officials.caution].filter(Boolean);
  box.replaceChildren(
    h("h2", { id: "h-cards" }, "Judges' cards: red–blue"),
    h("table", { class: "rounds", "aria-labelledby": "h-cards" },
      h("thead", null, h("tr", null, h("th", { scope: "col" }, h("span", { class: "unseen" }, "Judge")),
        ...rounds.map((round) => h("th", { scope: "col" }, `R${round}`)), h("th", { scope: "col" }, "total"))),
      h("tbody", null, ...officials.cards.map((card) => h("tr", null,
        h("th", { scope: "row" }, h("bdi", null, card.judge)),
        ...rounds.map((round) => h("td", null, ...points(card.scores.find((score) => score.round === round)))),
        h("td", null, h("b", null, ...points(card.total))))))),
    h("p", { class: "note" }, notes.join(" ")));
}
