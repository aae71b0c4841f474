// The coach's page: frames the sheet that the feed writes, and loads it anew when figures change.
"use strict";

const EVERY_MS = 2000; // between two loadings

const [, , card, number, , corner] = location.pathname.split("/");
const bout = `${card}/${number}`;
const base = `/v1/bouts/${bout}`;
const address = `${base}/coach/${corner}`;
const frame = $("sheet");
let loading = false;
let again = false;

function fit() {
  const page = frame.contentDocument;
  if (page && page.documentElement) {
    frame.style.height = `${page.documentElement.scrollHeight + 4}px`;
  }
}

function load() {
  if (loading) {
    again = true;
    return;
  }
  loading = true;
  if (frame.getAttribute("src")) {
    frame.contentWindow.location.reload();
  } else {
    frame.setAttribute("src", address);
  }
  setTimeout(() => {
    loading = false;
    if (again) {
      again = false;
      load();
    }
  }, EVERY_MS);
}

let shown = ""; // what the sheet was loaded for
const line = new Line(base, {
  counts(document) {
    const now = JSON.stringify([document.entries, document.gate]);
    if (now !== shown) { // time alone changes nothing that a coach reads
      shown = now;
      load();
    }
  },
});

frame.addEventListener("load", fit);
addEventListener("resize", fit);
const other = corner === "red" ? "blue" : "red";
setText($("where"), `${decodeURIComponent(card)} · bout ${number} · ${corner.toUpperCase()}`);
setText($("title"), `Coach's page of the ${corner} corner`);
document.title = `Coach's page, ${corner} · ringtally`;
$("bout").setAttribute("href", `/bout/${bout}`);
$("alone").setAttribute("href", address);
$("other").setAttribute("href", `/bout/${bout}/coach/${other}`);
setText($("other"), `${other === "red" ? "Red" : "Blue"}'s page`);
line.start();
