// The line to the feed: listens to a bout's events, goes on where it was cut, and says when it is.
"use strict";

const SILENT_MS = 5000; // beats come every two seconds
const AGAIN_MS = 1000;
const HIDDEN_MS = 10000; // a page that nobody sees gives its connection back: a browser has six

class Line {
  // `on`: begin() gives the position to go on from, or null; counts, beat, entry, anew take the
  // data of those events. All but counts may be missing.
  constructor(base, on) {
    this.base = base;
    this.on = on;
    this.source = null;
    this.lastId = null; // position in the log
    this.heardAt = 0; // performance.now() of the last event
    this.cutAt = null;
    this.ahead = null; // the feed's time minus ours
    this.word = "live"; // what is said while the line stands
    this.hiddenAt = null;
    addEventListener("pagehide", () => { // a page that the browser keeps for "back" gives its connection back too
      if (this.source) {
        this.source.close();
        this.source = null;
      }
    });
    addEventListener("pageshow", (event) => {
      if (event.persisted && !this.source) {
        this.start();
      }
    });
    document.addEventListener("visibilitychange", () => {
      this.hiddenAt = document.hidden ? performance.now() : null;
      if (!document.hidden && !this.source) {
        this.start();
      }
    });
    setInterval(() => {
      if (this.hiddenAt !== null && performance.now() - this.hiddenAt > HIDDEN_MS) {
        this.rest();
      } else if (this.source && performance.now() - this.heardAt > SILENT_MS) {
        this.cut("The feed fell silent");
        this.start();
      }
      if (document.body.dataset.line === "live") {
        setText($("line"), document.body.dataset.part === "old" ? `${this.word}, in part` : this.word);
      }
    }, 250);
  }

  // The moment now, by the feed's clock.
  now() {
    return Date.now() + (this.ahead || 0);
  }

  tune(moment) {
    const difference = Date.parse(moment) - Date.now();
    // A late event seems to come from the past: the largest difference is the truest.
    if (this.ahead === null || difference > this.ahead || this.ahead - difference > 2000) {
      this.ahead = difference;
    }
  }

  heard() {
    this.heardAt = performance.now();
    alarm("trouble", null);
    alarm("kept", null);
    if (document.body.dataset.line !== "live") {
      setLine("live", this.word);
      alarm("line", null);
    }
  }

  cut(reason) {
    if (document.body.dataset.line !== "cut" || !this.cutAt) {
      this.cutAt = new Date();
    }
    setLine("cut", "line cut");
    alarm("line", `${reason} at ${timeText(this.cutAt)}: what is below is older than that. Trying again.`);
  }

  rest() {
    if (this.source) {
      this.source.close();
      this.source = null;
      setLine("wait", "not listening while out of sight");
    }
  }

  async start() {
    if (this.starting) {
      return;
    }
    this.starting = true;
    if (this.source) {
      this.source.close();
      this.source = null;
    }
    try {
      if (this.lastId === null && this.on.begin) {
        this.lastId = await this.on.begin();
      } else {
        await getJson(`${this.base}/counts`); // says in words why there is no stream
      }
      this.starting = false;
      this.listen();
    } catch (error) {
      this.starting = false;
      this.cut(error.status ? `No figures: ${error.message},` : "The line to the feed was cut");
      setTimeout(() => this.start(), AGAIN_MS);
    }
  }

  listen() {
    const after = this.lastId ? `?after=${encodeURIComponent(this.lastId)}` : "";
    const source = new EventSource(`${this.base}/events${after}`);
    this.source = source;
    this.heardAt = performance.now();
    const take = (name, act) => source.addEventListener(name, (event) => {
      if (this.source === source) {
        this.lastId = event.lastEventId || this.lastId;
        act(JSON.parse(event.data));
      }
    });
    for (const name of ["counts", "beat", "entry", "anew"]) {
      take(name, (data) => {
        this.heard();
        if (name === "beat") {
          this.tune(data.heartbeat);
        }
        if (this.on[name]) {
          this.on[name](data);
        }
      });
    }
    take("trouble", (data) => {
      this.heardAt = performance.now();
      setLine("cut", "database");
      alarm("trouble", `The feed cannot read the database since ${timeText(new Date(data.since))}: ${data.trouble}.`);
    });
    source.onerror = () => {
      if (this.source === source) {
        this.cut("The line to the feed was cut");
        if (source.readyState === EventSource.CLOSED) {
          this.source = null;
          setTimeout(() => this.start(), AGAIN_MS);
        }
      }
    };
  }
}
