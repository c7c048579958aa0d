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
  const query = (values, failures) => values.map((v, n) => `n${n}=${encodeURIComponent(v)}`)
    .concat(failures ? ["failures=1"] : []).join("&");
  const now = () => sliders.map(s => s.value);

  function sign(told, faint) {
    const place = n => (told.values[n] - sliders[n].min) / (sliders[n].max - sliders[n].min);
    const x = 10 + 280 * place(0), y = 290 - 280 * place(1);
    const text = document.createElementNS("http://www.w3.org/2000/svg", "text");
    text.setAttribute("x", x); text.setAttribute("y", y + 4);
    text.setAttribute("text-anchor", "middle");
    if (faint) text.setAttribute("class", "faint");
    text.textContent = signs[told.verdict] || "?";
    map.insertBefore(text, map.lastElementChild);
    return [x, y];
  }

  function mark(told) {
    if (!map || sliders.length < 2) return;
    const [x, y] = sign(told, false);
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
      const answer = await fetch(`at?${query(now(), failures)}`, {cache: "no-store"});
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

  // The map of both numbers, each setting as planned; a slider that moves ends it.
  const each = 7, said = document.getElementById("desk-fill-says");
  async function fill() {
    const mine = wanted, values = now();
    map.querySelectorAll(".faint").forEach(text => text.remove());
    for (let done = 0; done < each * each; done += 1) {
      [done % each, Math.floor(done / each)].forEach((step, n) => {
        const low = Number(sliders[n].min), high = Number(sliders[n].max);
        values[n] = step === each - 1 ? high : low + (high - low) * step / (each - 1);
      });
      try {
        const answer = await fetch(`at?${query(values, false)}`, {cache: "no-store"});
        if (answer.ok) sign(await answer.json(), true);
      } catch {
        return;
      }
      if (mine !== wanted) { said.textContent = "Ended, since a slider was moved."; return; }
      said.textContent = `${done + 1} of ${each * each}`;
    }
    said.textContent = "As planned, without failures: a review with them may refuse more.";
  }
  document.getElementById("desk-fill")?.addEventListener("click", fill);

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
