// The bench's quick entry. It only asks and shows: what is recorded, refused and
// flagged is decided in the kernel. What was typed leaves its field only once the
// kernel says that it is written.

const make = (tag, more = {}, ...children) => {
  const { dataset, ...plain } = more;
  const element = Object.assign(document.createElement(tag), plain);
  Object.assign(element.dataset, dataset ?? {});
  element.append(...children.filter((c) => c !== null && c !== undefined));
  return element;
};

const field = (label, control, wide = false) =>
  make("label", { className: `bpe-field${wide ? " wide" : ""}` }, make("span", { textContent: label }), control);

const textBox = (more = {}) =>
  make("input", { type: "text", autocomplete: "off", spellcheck: false, autocapitalize: "off", ...more });

const IN_SIGHT = 5; // rows that can be struck from here; the table below has more

let panels = 0;

function render({ model, el }) {
  const id = `bpe-${Date.now().toString(36)}-${++panels}`;
  const stop = new AbortController();
  let asked = 0;
  let waiting = null; // the number of the request that is not answered yet
  let keyed = false; // whether that is a key's, so that what stands in the line stays
  let ahead = []; // outcomes typed before the one before them was answered
  let aimed = null; // the measurand turned to while others were asked for
  let reason = null; // what the reason field is open for
  let shown = model.get("shown");

  // Fixed parts: they are made once, so that focus and half-typed text survive.
  const ways = make("fieldset", { className: "bpe-ways", ariaLabel: "What is entered" });
  const round = make("span", { className: "bpe-round" });
  const measurand = textBox({ ariaLabel: "Measurand" });
  const names = make("datalist", { id: `${id}-names` });
  measurand.setAttribute("list", names.id);
  const line = textBox({ ariaLabel: "Reading" });
  const unit = make("span", { className: "bpe-unit" });
  const using = make("select");
  const dial = make("select");
  const range = make("select");
  const at = textBox();
  const places = make("datalist", { id: `${id}-places` });
  at.setAttribute("list", places.id);
  const plan = make("select");
  const next = make("div", { className: "bpe-asked", ariaLive: "polite" });
  const answer = make("div", { className: "bpe-answer", ariaLive: "assertive", role: "status" });
  const flags = make("ul", { className: "bpe-flags", ariaLabel: "Look at this before the leads come off" });
  const because = textBox();
  const corrected = make("select", { ariaLabel: "Outcome" });
  const why = make("div", { className: "bpe-why" });
  const list = make("table", { className: "bpe-list" });
  const keys = make("p", { className: "bpe-keys" });
  const measurandField = field("Measurand (↑ ↓)", measurand);
  const planField = field("Plan", plan);
  const atField = field("Place and state", at, true);
  const atLabel = atField.firstChild;
  const lineField = field("Reading", make("div", { className: "bpe-reading" }, line, unit), true);
  const lineLabel = lineField.firstChild;
  const usingField = field("Instrument", using);
  const dialField = field("Function", dial);
  const rangeField = field("Range", range);
  const rootEl = make(
    "section",
    { className: "bpe", ariaLabel: "Quick entry" },
    ways, next,
    make("div", { className: "bpe-main" }, planField, measurandField, lineField),
    make("div", { className: "bpe-main" }, atField, usingField, dialField, rangeField),
    names, places, answer, flags, why, keys, list,
  );
  el.append(rootEl);

  const ask = (message, byKey = false) => {
    if (waiting) return;
    keyed = byKey;
    waiting = `${id}-${++asked}`;
    const number = waiting;
    setTimeout(() => {
      if (waiting === number) say("Waiting for the kernel; what you typed is kept.", false);
    }, 1200);
    model.send({ ...message, number });
  };

  const say = (text, ok) => {
    answer.textContent = text;
    answer.classList.toggle("refused", !ok);
  };

  const taken = () => ({ using: using.value, function: dial.value, range: range.value, at: at.value });

  const send = () => {
    if (shown.mode === "readings") {
      ask({ do: "record", measurand: measurand.value, text: line.value, ...taken() });
    } else if (shown.mode === "survey" && shown.survey.next) {
      ask({ do: "record", cell: shown.survey.next.name, text: line.value, ...taken() });
    } else if (shown.mode === "trials" && shown.trials.next && line.value.trim()) {
      ask({ do: "outcome", seen: line.value.trim(), place: String(shown.trials.next.place) });
    }
  };

  // A reason is asked for in the panel itself: nothing pops up, Escape leaves it.
  const askReason = (what) => {
    reason = what;
    because.value = "";
    const buttons = what.ways.map(([label, message]) =>
      make("button", {
        type: "button",
        textContent: label,
        onclick: () => ask({ ...message, because: because.value, seen: corrected.value }),
      }),
    );
    corrected.replaceChildren(...(what.outcomes ?? []).map((o) => make("option", { textContent: o, value: o })));
    why.replaceChildren(
      ...(what.outcomes ? [field("Outcome", corrected)] : []),
      field(what.label, because, true),
      ...buttons,
    );
    why.hidden = false;
    (what.outcomes ? corrected : because).focus();
  };
  const closeReason = () => {
    reason = null;
    why.hidden = true;
    why.replaceChildren();
  };

  const fillSelect = (select, options, value) => {
    const all = options.some(([v]) => v === value) ? options : [...options, [value, value]];
    const said = JSON.stringify(all);
    if (select.dataset.said !== said) {
      select.replaceChildren(...all.map(([v, label]) => make("option", { value: v, textContent: label })));
      select.dataset.said = said;
    }
    select.value = value;
  };

  const fillTaken = (part) => {
    const { instruments, taken: set } = part;
    fillSelect(using, [["", "none"], ...instruments.map((i) => [i.name, i.name])], set.using);
    fillDial(part, set.function, set.range);
    if (document.activeElement !== at) at.value = set.at;
  };
  const fillDial = (part, chosen, chosenRange) => {
    const instrument = part.instruments.find((i) => i.name === using.value);
    const functions = instrument?.functions ?? [];
    fillSelect(dial, [["", "by the unit"], ...functions.map((f) => [f.name, f.name])], chosen);
    const ranges = functions.filter((f) => !dial.value || f.name === dial.value).flatMap((f) => f.ranges);
    fillSelect(range, [["", "smallest that holds it"], ...[...new Set(ranges)].map((r) => [r, r])], chosenRange);
  };

  const drawWays = () => {
    const said = JSON.stringify(shown.modes);
    if (ways.dataset.said !== said) {
      ways.replaceChildren(
        ...Object.entries(shown.modes).map(([name, label]) =>
          make("label", {}, make("input", { type: "radio", name: `${id}-mode`, value: name, onchange: () => ask({ do: "mode", mode: name }) }), label),
        ),
        round,
      );
      ways.dataset.said = said;
    }
    for (const radio of ways.querySelectorAll("input")) radio.checked = radio.value === shown.mode;
    round.textContent = `Round ${shown.round}`;
  };

  const drawReadings = () => {
    const part = shown.readings;
    names.replaceChildren(
      ...part.names.map(({ name, count }) => make("option", { value: name, label: count ? `${name}: ${count} in this round` : `${name}: to be measured` })),
    );
    places.replaceChildren(...part.places.map((p) => make("option", { value: p })));
    if (document.activeElement !== measurand || measurand.value.trim() === part.measurand) measurand.value = part.measurand;
    unit.textContent = part.unit;
    fillTaken(part);
    lineLabel.textContent = "Reading, then Enter";
    atLabel.textContent = "Place and state";
    line.placeholder = part.unit ? "" : "3.912 V";
    next.replaceChildren();
    keys.replaceChildren("Also: ", kbd("V_load 11.39 V"), " turns to another measurand · ", kbd("OL Mohm"), " over range · ", kbd("17 of 20"), " a count · ", kbd("Esc"), " back to the reading");
  };

  const drawSurvey = () => {
    const { there, next: cell, left, of, passed } = shown.survey;
    fillTaken(shown.survey);
    atLabel.textContent = "How it was taken (note)";
    lineLabel.textContent = "Reading, then Enter";
    line.placeholder = cell?.kind === "ohms" ? "148 kohm, OL Mohm, beep" : "";
    unit.textContent = cell?.unit ?? "";
    if (!there) next.textContent = "case.toml declares no contacts: add a [survey] and a [[contact]] for each.";
    else if (!cell) next.textContent = passed ? `Nothing else is left; ${passed} passed over.` : `All ${of} are measured.`;
    else {
      next.replaceChildren(
        ...(cell.new_state ? ["Bring the device into the state ", make("span", { className: "bpe-state", textContent: cell.state }), make("br")] : []),
        cell.kind === "ohms" ? "Ohms: red lead on " : "Volts: red lead on ",
        make("strong", { textContent: cell.contact }),
        cell.where ? ` (${cell.where})` : "",
        `, black on ${cell.reference}, ${cell.state}. ${left} of ${of} left.`,
      );
    }
    keys.replaceChildren(kbd("-"), " passes a contact over for now", ...(passed ? [" · ", button("Ask again for those passed over", () => ask({ do: "again" }))] : []));
  };

  const drawTrials = () => {
    const { there, plans, plan: chosen, next: due, left, of, keys: one } = shown.trials;
    lineLabel.textContent = "What was seen: one key";
    line.placeholder = "";
    unit.textContent = "";
    if (there) fillSelect(plan, plans.map((p) => [p, p]), chosen);
    planField.hidden = !there || plans.length < 2;
    if (!there) next.textContent = "There is no trial plan yet: case.trials.plan('power', …).";
    else if (!due) next.textContent = "Nothing is left to be made of this plan.";
    else next.replaceChildren(`Place ${due.place} of ${of}: `, make("strong", { textContent: due.condition }), `. ${left} left.`);
    keys.replaceChildren(
      ...(shown.trials.outcomes ?? []).flatMap((word) => [
        ...Object.keys(one).filter((key) => one[key] === word).flatMap((key) => [kbd(key), " "]),
        `${word}  · `,
      ]),
      ...(due
        ? [
            button("No outcome…", () => askReason({ label: "What happened?", ways: [["Note it", { do: "aborted", place: String(due.place) }]] })),
            " ",
            button("Not done…", () => askReason({ label: "Why is it not done?", ways: [["Leave it out", { do: "skip", place: String(due.place) }]] })),
          ]
        : []),
    );
  };

  const kbd = (text) => make("kbd", { textContent: text });
  const button = (text, onclick) => make("button", { type: "button", textContent: text, onclick });

  const drawList = () => {
    if (shown.mode === "trials") return drawAttempts();
    const wide = (i) => (i === 3 || i === 5 ? "w" : i === 2 ? "n" : "");
    const head = make("tr", {}, ...shown.heads.map((h, i) => make("th", { textContent: h, scope: "col", className: wide(i) })), make("th", { scope: "col", textContent: "" }));
    const body = shown.rows.slice(0, IN_SIGHT).map(({ cells, state }) => {
      const gone = state === "struck" || state === "superseded";
      const row = cells[0];
      return make(
        "tr", { className: state },
        ...cells.map((text, i) => make("td", { className: wide(i) }, i === 2 && gone ? make("del", { textContent: text }) : text)),
        make("td", {}, gone ? state : Object.assign(button("Strike…", () =>
          askReason({ label: `What went wrong with ${row}, ${cells[1]} ${cells[2]}?`, ways: [[`Strike ${row}`, { do: "strike", row }]] })), { ariaLabel: `Strike ${row}, ${cells[1]} ${cells[2]}` })),
      );
    });
    list.replaceChildren(...(body.length ? [make("caption", { textContent: "Latest first" }), make("thead", {}, head), make("tbody", {}, ...body)] : []));
  };

  const drawAttempts = () => {
    const made = shown.trials.made ?? [];
    const body = [...made].reverse().map((m) =>
      make(
        "tr", {},
        ...[String(m.attempt), String(m.place || "unplanned"), m.condition].map((text) => make("td", { textContent: text })),
        make("td", {}, m.typed && m.typed !== m.outcome ? make("del", { textContent: m.typed }) : "", ` ${m.outcome}`),
        make("td", {}, m.typed ? button("Correct…", () =>
          askReason({ label: `Why is attempt ${m.attempt} recorded wrongly?`, outcomes: shown.trials.outcomes, ways: [["Correct it", { do: "correct", attempt: String(m.attempt) }]] })) : ""),
      ),
    );
    const head = ["Attempt", "Place", "Condition", "Seen", ""].map((h) => make("th", { textContent: h, scope: "col" }));
    list.replaceChildren(...(body.length ? [make("caption", { textContent: "Latest first" }), make("thead", {}, make("tr", {}, ...head)), make("tbody", {}, ...body)] : []));
  };

  const draw = () => {
    shown = model.get("shown");
    const answered = shown.answer.number === waiting;
    drawWays();
    const typed = shown.mode === "readings" || Boolean(shown.survey?.next);
    for (const part of [atField, usingField, dialField, rangeField]) part.hidden = !typed;
    measurandField.hidden = shown.mode !== "readings";
    planField.hidden = true;
    ({ readings: drawReadings, survey: drawSurvey, trials: drawTrials })[shown.mode]();
    lineField.hidden = shown.mode !== "readings" && !shown[shown.mode].next;
    drawList();
    say(shown.answer.text, shown.answer.ok);
    flags.replaceChildren(...shown.answer.flags.map((f) => make("li", { textContent: f })));
    if (!answered) return;
    waiting = null;
    if (shown.answer.ok) {
      if (!keyed) line.value = "";
      closeReason();
      line.focus();
    } else ahead = [];
    const turn = aimed;
    aimed = null;
    if (turn !== null && turn !== shown.readings?.measurand) ask({ do: "choose", measurand: turn });
    else if (ahead.length) outcome(ahead.shift());
    else if (!shown.answer.ok && shown.answer.offers.length && !reason) offer();
  };

  // A refusal because of other readings in this round: the two honest ways on.
  const offer = () => {
    const message = { do: "record", measurand: measurand.value, text: line.value, ...taken() };
    askReason({
      label: "Reason",
      ways: [
        ["The recorded ones are wrong: correct", message],
        ["Measured again: open a round", { ...message, do: "round" }],
      ],
    });
  };

  const step = (by) => {
    const all = shown.readings.names.map((n) => n.name);
    if (!all.length) return;
    const i = all.indexOf(aimed ?? shown.readings.measurand);
    aimed = all[(i + by + all.length) % all.length];
    ask({ do: "choose", measurand: aimed });
  };

  // One key: it is for the place that is next once those before it are recorded.
  const outcome = (word) => {
    if (!shown.trials?.next) ahead = [];
    else if (waiting) ahead.push(word);
    else ask({ do: "outcome", seen: word, place: String(shown.trials.next.place) }, true);
  };

  const pressed = (event) => {
    // The notebook around the panel has shortcuts of its own on bare letters.
    event.stopPropagation();
    if (event.type !== "keydown" || event.isComposing) return;
    if (event.key === "Escape") {
      event.preventDefault();
      closeReason();
      line.focus();
    } else if (event.key === "Enter" && event.target === because) {
      event.preventDefault();
      // Of two ways on, Enter takes none blindly: it leads to the first.
      const all = why.querySelectorAll("button");
      if (all.length === 1) all[0].click();
      else all[0]?.focus();
    } else if (event.key === "Enter" && event.target instanceof HTMLInputElement && event.target.type === "text") {
      event.preventDefault();
      if (event.target === measurand && !line.value.trim()) ask({ do: "choose", measurand: measurand.value.trim() });
      else if (event.target !== line && !line.value.trim()) line.focus();
      else send();
    } else if (event.target === line && shown.mode === "readings" && !line.value && (event.key === "ArrowUp" || event.key === "ArrowDown")) {
      event.preventDefault();
      step(event.key === "ArrowDown" ? 1 : -1);
    } else if (event.target === line && shown.mode === "trials" && !event.ctrlKey && !event.metaKey && !event.altKey) {
      const word = shown.trials.keys?.[event.key.toLowerCase()];
      if (word && !line.value && shown.trials.next && !event.repeat) {
        event.preventDefault();
        outcome(word);
      }
    }
  };
  for (const type of ["keydown", "keypress", "keyup"]) rootEl.addEventListener(type, pressed, { signal: stop.signal });
  // A cell may have recorded, or opened a round, since the panel was last used.
  const entered = (event) => rootEl.contains(event.relatedTarget) || model.send({ do: "look" });
  rootEl.addEventListener("focusin", entered, { signal: stop.signal });
  using.onchange = () => fillDial(shown[shown.mode], "", "");
  dial.onchange = () => fillDial(shown[shown.mode], dial.value, "");
  plan.onchange = () => ask({ do: "plan", plan: plan.value });
  measurand.onchange = () => {
    const name = measurand.value.trim();
    if (name && name !== shown.readings?.measurand && shown.readings?.names.some((n) => n.name === name)) ask({ do: "choose", measurand: name });
  };

  model.on("change:shown", draw);
  closeReason();
  draw();
  setTimeout(() => line.focus(), 0);
  return () => {
    stop.abort();
    model.off("change:shown", draw);
  };
}

export default { render };
