// Keeps a page fresh, or says that it is not. Every page reads whole without this file; it decides nothing.
(() => {
  "use strict";
  const bar = document.getElementById("no-contact");
  const heard = document.getElementById("heard");
  const root = document.documentElement;
  const live = document.querySelector("[data-live]");
  if (!live || !live.dataset.live) return;
  const every = 1000 * live.dataset.every;
  const alive = 1000 * live.dataset.alive;
  // Two polls and a half of the faster question, and 10 s: one lost answer is no alarm, a dead network is.
  const silentAfter = 2.5 * Math.min(every, alive) + 10000;
  const longestWait = 8000;
  const ago = new Intl.RelativeTimeFormat(root.lang, { numeric: "always" });
  let last = Date.now(); // when what is shown was true
  let hour = live.dataset.hour; // the same, by the site's clock
  let contact = last;
  let tag = live.dataset.tag;

  const show = () => {
    const now = Date.now();
    const off = now - last > silentAfter;
    const s = Math.max(0, Math.round((now - contact) / 1000));
    heard.textContent = heard.dataset.say + " " + (s < 60 ? ago.format(-s, "second") : ago.format(-Math.floor(s / 60), "minute"));
    document.body.classList.toggle("stale", off);
    if (off && bar.hidden) bar.textContent = bar.dataset.say.replace("%", hour);
    bar.hidden = !off;
  };

  const ask = async (path, headers) => {
    const stop = new AbortController();
    const timer = setTimeout(() => stop.abort(), longestWait); // a dead socket must not hold us
    try {
      const answer = await fetch(path, { headers, signal: stop.signal, cache: "no-store" });
      const text = answer.status === 200 ? await answer.text() : "";
      if (answer.status === 401 || answer.status === 403) location.reload();
      if (answer.status >= 400) return null;
      contact = Date.now();
      return { answer, text };
    } catch {
      return null;
    } finally {
      clearTimeout(timer);
    }
  };

  const repeat = (turn, period) => {
    let failures = 0;
    let timer = 0;
    let asking = false;
    const run = async () => {
      clearTimeout(timer);
      if (document.hidden || asking) return; // woken when somebody looks again
      asking = true;
      const good = await turn();
      asking = false;
      failures = good ? 0 : failures + 1;
      show();
      timer = setTimeout(run, good ? period : Math.min(1000 * 2 ** failures, 6000));
    };
    timer = setTimeout(run, period);
    return run;
  };

  const fresh = repeat(async () => {
    const found = await ask(live.dataset.live, tag ? { "If-None-Match": tag } : {});
    if (!found) return false;
    if (found.answer.status === 200) {
      live.innerHTML = found.text;
      tag = found.answer.headers.get("ETag");
    }
    last = contact; // only this makes what is shown fresh: an answer to anything else does not
    hour = found.answer.headers.get("Site-Hour") || hour;
    return true;
  }, every);

  const reached = repeat(async () => {
    const found = await ask("/alive", {});
    if (found && !bar.hidden) fresh(); // contact is back: what is shown must follow at once
    return Boolean(found);
  }, alive);

  const wake = () => {
    if (document.hidden) return;
    show();
    fresh();
    reached();
  };
  setInterval(show, 1000);
  document.addEventListener("visibilitychange", wake);
  addEventListener("online", wake);
  addEventListener("pageshow", (event) => event.persisted && wake());
  show();
})();
