"use strict";
(() => {
  const note = document.getElementById("desk-note");
  const version = Number(document.body.dataset.version);
  const sliders = [...document.querySelectorAll("#desk input")];
  const verdict = document.getElementById("desk-verdict");
  const says = document.getElementById("desk-says");
  const map = document.getElementById("desk-map");
  const signs = {"may proceed": "\u25cb", "may proceed with conditions": "\u25d0",
    "cannot be judged": "?", "must not proceed": "\u2715", "wrong input": "\u2013"};
  const tell = text => { if (note.textContent !== text) note.textContent = text; };

  async function poll() {
    try {
      const state = await (await fetch("state", {cache: "no-store"})).json();
      if (state.version !== version) { location.reload(); return; }
      tell(state.reviewing ? "The file was saved; it is being reviewed. What stands here is older." : "");
    } catch {
      tell("The desk does not answer. What stands here may be old.");
    }
    setTimeout(poll, 700);
  }

  let wanted = 0, busy = false, pause = 0;
  const query = failures => sliders.map((s, n) => `n${n}=${encodeURIComponent(s.value)}`)
    .concat(failures ? ["failures=1"] : []).join("&");

  function mark(told) {
    if (!map || sliders.length < 2) return;
    const place = n => (told.values[n] - sliders[n].min) / (sliders[n].max - sliders[n].min);
    const x = 10 + 280 * place(0), y = 290 - 280 * place(1);
    const text = document.createElementNS("http://www.w3.org/2000/svg", "text");
    text.setAttribute("x", x); text.setAttribute("y", y + 4);
    text.setAttribute("text-anchor", "middle");
    text.textContent = signs[told.verdict] || "?";
    map.insertBefore(text, map.lastElementChild);
    map.lastElementChild.setAttribute("cx", x); map.lastElementChild.setAttribute("cy", y);
    document.getElementById("desk-map-says").textContent =
      `${told.shown[0]}, ${told.shown[1]}: ${told.verdict}${told.failures ? "" : " (failures follow)"}`;
  }

  function show(told) {
    verdict.textContent = told.failures ? told.verdict.toUpperCase()
      : `As planned: ${told.verdict}; failures follow`;
    verdict.dataset.failures = told.failures ? "in" : "follow";
    says.textContent = told.says;
    mark(told);
  }

  async function ask(failures) {
    const mine = wanted;
    busy = true;
    try {
      const answer = await fetch(`at?${query(failures)}`, {cache: "no-store"});
      if (mine === wanted) {
        if (answer.ok) show(await answer.json());
        else verdict.textContent = "Not judged: the desk could not review this setting.";
      }
    } catch {
      tell("The desk does not answer. What stands here may be old.");
    }
    busy = false;
    if (mine !== wanted) ask(false);
  }

  sliders.forEach((slider, n) => slider.addEventListener("input", () => {
    wanted += 1;
    const unit = slider.dataset.unit;
    document.getElementById(`desk-value-${n}`).textContent =
      `${Number(Number(slider.value).toPrecision(4))} ${unit}`.trim();
    verdict.textContent = "Reviewing; failures follow";
    verdict.dataset.failures = "follow";
    if (!busy) ask(false);
    clearTimeout(pause);
    pause = setTimeout(() => ask(true), 600);
  }));
  poll();
})();
