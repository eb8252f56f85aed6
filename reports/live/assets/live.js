"use strict";
// The page holds no figures of its own: it shows what the server sends, and sends what is answered.

const byId = (id) => document.getElementById(id);
const made = (tag, options = {}, ...children) => {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(options)) {
    if (name === "text") element.textContent = value;
    else if (value === true) element.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) element.setAttribute(name, value);
  }
  element.append(...children.filter((child) => child !== null));
  return element;
};
const MONTHS = [["Jan", 31], ["Feb", 28], ["Mar", 31], ["Apr", 30], ["May", 31], ["Jun", 30],
  ["Jul", 31], ["Aug", 31], ["Sep", 30], ["Oct", 31], ["Nov", 30], ["Dec", 31]];
const stored = JSON.parse(sessionStorage.getItem("live") || "{}"); // of this tab: outlives a reload

let socket = null;
let number = 0;          // of the last change sent
let tries = 0;
let shown = "";          // the fields there are
let map = null;          // of the year, as last sent
let changed = new Set(); // names of what was changed
let picked = null;       // hour of the year on the psychrometric chart
const refusals = {};     // sentence by field
const waiting = [];      // sent while the socket was closed
const slider = { sent: 0, next: null }; // one move is on its way; the newest waits, the rest fall away

function store(changes) {
  Object.assign(stored, changes);
  sessionStorage.setItem("live", JSON.stringify(stored));
}

function open() {
  const address = new URL("socket", location.href);
  address.protocol = "ws:";
  socket = new WebSocket(address);
  socket.onopen = () => {
    tries = 0;
    banner("");
    slider.sent = 0;
    socket.send(JSON.stringify({ kind: "hello", number, session: stored.session, digest: stored.digest, answers: stored.answers }));
    while (waiting.length) socket.send(waiting.shift());
  };
  socket.onmessage = (event) => taken(JSON.parse(event.data));
  socket.onclose = () => {
    tries += 1;
    document.body.dataset.closed = tries;
    working("");
    banner(tries < 4 ? "The connection was lost; trying again …"
      : "The program behind this page has ended. Start it again with dewledger live and open the address that it prints; in this tab, at the same port, what was changed comes back.");
    setTimeout(open, Math.min(400 * 2 ** tries, 8000));
  };
}

function send(message) {
  const text = JSON.stringify(message);
  if (socket && socket.readyState === WebSocket.OPEN) socket.send(text);
  else waiting.push(text);
}

function change(name, value) {
  slider.next = null;
  number += 1;
  delete refusals[name];
  send({ kind: "set", name, value, number });
  working("Solving …");
}

// A hand moves faster than a case is read: the newest place of a slider waits for the answer to the
// one before it.
function move(name, value) {
  if (slider.sent) { slider.next = [name, value]; return; }
  number += 1;
  slider.sent = number;
  delete refusals[name];
  send({ kind: "set", name, value, number, moving: true });
  working("Solving …");
}

function moved(message) {
  if (!slider.sent || (message.number || 0) < slider.sent) return;
  slider.sent = 0;
  const next = slider.next;
  slider.next = null;
  if (next) move(...next);
}

function undo(name) {
  number += 1;
  if (name) delete refusals[name];
  send({ kind: "undo", name, number });
  working("Solving …");
}

function banner(text) {
  byId("banner").textContent = text;
  byId("banner").hidden = !text;
}

function working(text) {
  if (byId("working").textContent !== text) byId("working").textContent = text;
}

const TAKERS = {
  hello(message) {
    number = Math.max(number, message.number);
    store({ session: message.session, digest: message.digest, answers: message.answers });
    if (byId("map-option").value) send({ kind: "map", option: byId("map-option").value });
    showState(message);
  },
  state(message) {
    store({ answers: message.answers });
    moved(message);
    showState(message);
  },
  compiling() { working("First run: compiling the hourly solution, once; this takes a while …"); },
  answer: showAnswer,
  picture: showPicture,
  verdict: showVerdict,
  map(message) { map = message; drawMap(); },
  hour: showHour,
  kept: showKept,
  refused(message) {
    refusals[message.name || ""] = message.sentence;
    moved(message);
    showRefusals();
    working("The last good answer stays.");
    byId("written").textContent = "";
  },
  saved(message) { byId("written").textContent = `Wrote ${message.path}`; },
  progress(message) {
    const far = message.total ? `${message.what}: ${message.done} of ${message.total}` : `${message.what} …`;
    const place = { band: "band-progress", report: "written" }[message.job];
    if (place) byId(place).textContent = far;
    else working(far);
  },
  band: showBand,
};

function taken(message) {
  TAKERS[message.kind]?.(message);
}

function showState(message) {
  changed = new Set(message.changed.map((one) => one.name));
  showFields(message.fields);
  for (const one of document.querySelectorAll(".switch input")) one.checked = one.value === message.display;
  const list = byId("changed");
  list.replaceChildren(...message.changed.map((one) => {
    const button = made("button", { type: "button", class: "plain", text: "Undo", "aria-label": `Undo ${one.label}` });
    button.onclick = () => undo(one.name);
    return made("li", { "data-name": one.name }, made("span", { text: `${one.label}: ${one.before} → ${one.now}` }), button);
  }));
  byId("no-changes").hidden = message.changed.length > 0;
  byId("undo").disabled = message.changed.length === 0;
}

// ---- questions

function showFields(fields) {
  const form = byId("fields");
  const names = JSON.stringify(fields.map((one) => [one.name, one.choices, one.units, Boolean(one.slider)]));
  if (names !== shown) {
    const focused = document.activeElement?.id;
    const opened = new Set([...form.querySelectorAll("details[open]")].map((one) => one.dataset.group));
    form.replaceChildren(...groupsOf(fields, opened));
    shown = names;
    if (focused) byId(focused)?.focus();
  }
  for (const one of fields) showField(one);
  for (const group of form.querySelectorAll("details")) {
    const count = group.querySelectorAll(".origin.changed").length;
    group.querySelector(".count").textContent = count ? `${count} changed` : "";
  }
  showRefusals();
}

function groupsOf(fields, opened) {
  const groups = new Map();
  for (const one of fields) {
    if (!groups.has(one.group)) groups.set(one.group, []);
    groups.get(one.group).push(one);
  }
  const idOf = new Map(fields.map((one) => [one.name, `field-${one.name.replace("@", "-of-")}`]));
  return [...groups].map(([group, members]) => {
    const boxes = members.map((one) => fieldBox(one, idOf.get(one.name)));
    if (members[0].slider) return made("fieldset", { id: "levers" }, made("legend", { text: group }), ...boxes);
    return made("details", { "data-group": group, open: opened.has(group) },
      made("summary", { text: group }, made("span", { class: "count" })), ...boxes);
  });
}

function fieldBox(one, id) {
  const box = made("div", { class: "field", "data-name": one.name });
  const described = `${id}-help ${id}-refused`;
  const unit = unitOf(one, id);
  const label = made("label", { for: id, text: one.label });
  const entry = one.several ? checksOf(one, id) : entryOf(one, id, described);
  if (one.slider) {
    box.append(made("div", { class: "row" }, label, entry, unit));
    const range = made("input", { type: "range", id: `${id}-move`, "aria-label": one.label, "aria-describedby": `${id}-help` });
    range.oninput = () => { entry.value = range.value; move(one.name, `${range.value} ${box.dataset.unit}`); };
    range.onchange = () => change(one.name, `${range.value} ${box.dataset.unit}`);
    box.append(range, made("div", { class: "tick", "aria-hidden": "true" }, made("i"), made("span")));
  } else {
    box.append(one.several ? made("div", { class: "name", id: `${id}-label`, text: one.label }) : label, made("div", { class: "row" }, entry, unit));
  }
  const foot = made("div", { class: "foot" }, made("p", { class: "help", id: `${id}-help` },
    made("span", { class: "origin" }), ` · ${one.help}`));
  if (one.can_be_unknown) {
    const unknown = made("button", { type: "button", class: "plain", text: "Don’t know", "aria-label": `Don’t know: ${one.label}` });
    unknown.onclick = () => change(one.name, null);
    foot.append(unknown);
  }
  box.append(foot, made("p", { class: "refused", id: `${id}-refused`, role: "alert", hidden: true }));
  return box;
}

function entryOf(one, id, described) {
  const free = one.name === "weather" || !one.choices.length;
  const entry = free ? made("input", { type: "text", id, "aria-describedby": described, list: one.choices.length ? `${id}-list` : null })
    : made("select", { id, "aria-describedby": described }, ...one.choices.map((word) => made("option", { value: word.value, text: word.text })));
  entry.onchange = () => change(one.name, entry.value);
  entry.dataset.entry = "";
  if (free && one.choices.length) {
    const list = made("datalist", { id: `${id}-list` }, ...one.choices.map((word) => made("option", { value: word.value })));
    return made("div", {}, entry, list);
  }
  return entry;
}

function checksOf(one, id) {
  const boxes = one.choices.map((word) => {
    const check = made("input", { type: "checkbox", value: word.value });
    check.onchange = () => change(one.name, [...set.querySelectorAll("input:checked")].map((c) => c.value).join(", "));
    return made("label", {}, check, made("span", { text: word.text }));
  });
  const set = made("div", { class: "checks", role: "group", "aria-labelledby": `${id}-label` }, ...boxes);
  return set;
}

function unitOf(one, id) {
  if (!one.units.length) return null;
  if (one.units.length === 1) return made("span", { class: "unit-name", text: one.units[0] });
  const unit = made("select", { id: `${id}-unit`, class: "unit", "aria-label": `Unit of ${one.label}` },
    ...one.units.map((name) => made("option", { value: name, text: SIGNS[name] || name })));
  unit.onchange = () => send({ kind: "unit", name: one.name, unit: unit.value });
  return unit;
}

// The unit is next to the box; what is typed may have one of its own.
function bare(one) {
  return one.unit && one.text.endsWith(` ${one.unit}`) ? one.text.slice(0, -one.unit.length - 1) : one.text;
}

const SIGNS = { degF: "°F", degC: "°C" };
const ORIGINS = { given: "given", starter: "from the starter", assumed: "assumed", "not stated": "not stated" };

function showField(one) {
  const box = document.querySelector(`[data-name="${CSS.escape(one.name)}"].field`);
  const entry = box.querySelector("[data-entry]");
  const own = document.activeElement === entry && one.name in refusals; // being corrected
  if (one.several) {
    const there = new Set(one.text.split(", "));
    for (const check of box.querySelectorAll("input")) check.checked = there.has(check.value);
  } else if (!own && !(slider.next && slider.next[0] === one.name)) {
    if (entry.tagName === "SELECT" && ![...entry.options].some((word) => word.value === one.text)) {
      entry.prepend(made("option", { value: one.text, text: one.text || "not stated" }));
    }
    const text = bare(one);
    if (entry.value !== text) entry.value = text;
  }
  box.dataset.unit = one.unit || "";
  const unit = box.querySelector("select.unit");
  if (unit) unit.value = one.unit;
  const range = box.querySelector("input[type=range]");
  if (range && one.slider) showSlider(box, range, one);
  const origin = box.querySelector(".origin");
  const kind = changed.has(one.name) && one.origin === "given" ? "given here" : ORIGINS[one.origin];
  origin.textContent = kind + (one.source && one.origin !== "starter" ? `: ${one.source}` : "");
  origin.classList.toggle("changed", changed.has(one.name));
}

function showSlider(box, range, one) {
  Object.assign(range, { min: one.slider.low, max: one.slider.high, step: one.slider.step });
  if (document.activeElement !== range || !slider.sent) range.value = one.slider.value;
  range.setAttribute("aria-valuetext", one.text);
  const tick = box.querySelector(".tick");
  tick.hidden = one.slider.mark === null;
  if (tick.hidden) return;
  const share = Math.min(Math.max((one.slider.mark - one.slider.low) / (one.slider.high - one.slider.low), 0), 1);
  const [line, words] = tick.children;
  line.style.left = words.style.left = `${share * 100}%`;
  words.textContent = `case ${Number(one.slider.mark.toPrecision(4))}`;
  words.className = share < 0.12 ? "first" : share > 0.88 ? "last" : "";
}

function showRefusals() {
  for (const box of document.querySelectorAll(".field")) {
    const line = box.querySelector(".refused");
    const sentence = refusals[box.dataset.name] || "";
    if (line.textContent !== sentence) line.textContent = sentence;
    line.hidden = !sentence;
    if (sentence && box.closest("details")) box.closest("details").open = true;
    box.querySelector("[data-entry]")?.setAttribute("aria-invalid", sentence ? "true" : "false");
  }
  if (refusals[""]) { banner(refusals[""]); delete refusals[""]; }
}

// ---- the answer

function showAnswer(message) {
  document.title = `${message.title} – Dewledger live`;
  byId("title").textContent = message.title;
  byId("place").textContent = message.place;
  banner("");
  working(message.number < number ? "Solving …" : "");
  sentences(message);
  fill(byId("table"), message.table);
  byId("note").textContent = message.table.note;
  const choose = byId("map-option");
  const chosen = message.options.some((one) => one.key === choose.value) ? choose.value : message.options.at(-1).key;
  choose.replaceChildren(...message.options.map((one) => made("option", { value: one.key, text: one.title })));
  choose.value = chosen;
  for (const figure of document.querySelectorAll("#pictures figure, #hour-picture")) figure.classList.add("old");
  if (!byId("band-result").hidden) byId("band-progress").textContent = "The case has changed since this band was drawn.";
  document.body.dataset.answered = message.number;
  document.body.dataset.took = message.took_s;
}

function sentences(message) {
  const place = byId("sentences");
  const texts = message.sentences.join("\n");
  if (place.dataset.texts !== texts) {
    place.dataset.texts = texts;
    place.replaceChildren(...message.sentences.map((text) => made("p", { text })));
  }
  byId("more").replaceChildren(...message.more.map((text) => made("p", { text })));
}

function showVerdict(message) {
  const openReasons = new Set([...document.querySelectorAll("#verdicts details[open]")].map((one) => one.closest("div").firstChild.textContent));
  if (message.number === number) working("");
  sentences(message);
  byId("code").hidden = false;
  byId("verdicts").replaceChildren(...message.verdicts.map((one) => made("div", {},
    made("dt", { text: one.title }), made("dd", {}, made("details", { open: openReasons.has(one.title) },
      made("summary", { text: one.short }), made("p", { class: "small", text: one.why }))))));
  byId("cautions").replaceChildren(...message.cautions.map((text) => made("li", { text })));
  document.body.dataset.judged = message.number;
}

function fill(table, content) {
  const cell = (one) => made("td", { class: one.number ? "number" : null, text: one.text });
  table.replaceChildren(
    made("caption", { text: content.caption }),
    made("thead", {}, made("tr", {}, ...content.heads.map((head) => {
      const element = made("th", { scope: "col", class: head.number ? "number" : null, text: head.text });
      if (head.unit) element.append(made("span", { class: "unit", text: head.unit }));
      return element;
    }))),
    made("tbody", {}, ...content.rows.map((row) => made("tr", { class: row.marked ? "marked" : null },
      made("th", { scope: "row", text: row.head }), ...row.cells.map(cell)))));
}

function picture(one) {
  const image = made("img", { alt: one.alt, src: `data:image/svg+xml;charset=utf-8,${encodeURIComponent(one.svg)}` });
  return made("div", { class: "picture", tabindex: "0", role: "group", "aria-label": one.title }, image);
}

function showPicture(message) {
  const figure = made("figure", { "data-picture": message.name },
    made("h3", { text: message.title }), picture(message), made("figcaption", { text: message.caption }));
  const before = document.querySelector(`[data-picture="${message.name}"]`);
  if (before) before.replaceWith(figure);
  else byId("pictures").append(figure);
  document.body.dataset.drawn = message.number;
}

function showKept(message) {
  byId("kept").hidden = !message.kept;
  if (!message.kept) return;
  byId("kept-differs").textContent = message.differs.length
    ? `What differs from it: ${message.differs.map((one) => `${one.label} ${one.before} → ${one.now}`).join("; ")}.`
    : "Nothing differs from it yet; move a lever.";
  fill(byId("kept-table"), message.table);
  byId("kept-note").textContent = message.table.note;
}

// ---- the map of the year and its hour

const SHADES = { wet: "#123c5a", humid: "#4a80a6", range: "#e3e9e8", dry: "#d9a441" };

function drawMap() {
  if (!map) return;
  const values = Uint8Array.from(atob(map.values), (c) => c.charCodeAt(0));
  const context = byId("map").getContext("2d");
  for (let hour = 0; hour < 8760; hour += 1) {
    const rh = values[hour] / 2;
    context.fillStyle = rh > map.high ? (rh > map.high + 10 ? SHADES.wet : SHADES.humid) : rh < map.low ? SHADES.dry : SHADES.range;
    context.fillRect(3 * Math.floor(hour / 24), 6 * (23 - (hour % 24)), 3, 6);
  }
  if (picked !== null) {
    context.strokeStyle = "#a3482e";
    context.lineWidth = 2;
    context.strokeRect(3 * Math.floor(picked / 24) - 3, 6 * (23 - (picked % 24)) - 2, 9, 10);
  }
  const key = (shade, text) => {
    const square = made("span", { class: "key" });
    square.style.background = shade;
    return [square, text];
  };
  byId("map-key").replaceChildren(...key(SHADES.wet, `over ${map.high + 10} % RH`), ...key(SHADES.humid, `over ${map.high} %`),
    ...key(SHADES.range, "in range"), ...key(SHADES.dry, `under ${map.low} %`));
}

function dateOf(hour) {
  let day = Math.floor(hour / 24);
  let month = 0;
  while (day >= MONTHS[month][1]) { day -= MONTHS[month][1]; month += 1; }
  return [month, day + 1, hour % 24];
}

function askHour() {
  const month = Number(byId("month").value);
  const day = Math.min(Math.max(Math.round(Number(byId("day").value)) || 1, 1), MONTHS[month][1]);
  byId("day").value = day;
  const before = MONTHS.slice(0, month).reduce((sum, one) => sum + one[1], 0);
  picked = (before + day - 1) * 24 + Number(byId("hour").value);
  drawMap();
  send({ kind: "hour", option: byId("map-option").value, hour: picked });
}

function showHour(message) {
  const figure = byId("hour-picture");
  figure.classList.remove("old");
  figure.replaceChildren(made("h3", { text: message.title }), picture(message), made("figcaption", { text: message.caption }));
}

// ---- the band

function showBand(message) {
  byId("band-progress").textContent = message.number < number ? "The case has changed since this band was drawn." : "";
  byId("band").disabled = false;
  byId("band-result").hidden = false;
  const options = message.options;
  fill(byId("band-table"), {
    caption: "Yearly saving against the reference",
    heads: [{ text: "Option" }, ...["P10", "P50", "P90"].map((text) => ({ text, unit: options[0]?.currency, number: true }))],
    rows: options.map((one) => ({ head: one.title, cells: [one.p10, one.p50, one.p90].map((value) => ({
      text: Number(value.toPrecision(3)).toLocaleString("en-US").replace("-", "−"), number: true })) })),
  });
}

// ---- files

async function download() {
  const button = byId("xlsx");
  button.disabled = true;
  byId("written").textContent = "Solving, then writing the workbook …";
  try {
    const answer = await fetch(`download/${stored.session}/results.xlsx`);
    if (!answer.ok) throw new Error(await answer.text());
    const link = made("a", { download: /filename="([^"]+)"/.exec(answer.headers.get("content-disposition"))[1] });
    link.href = URL.createObjectURL(await answer.blob());
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
    byId("written").textContent = `Downloaded ${link.download}`;
  } catch (error) {
    byId("written").textContent = `The workbook could not be made: ${error.message}`;
  }
  button.disabled = false;
}

byId("fields").onsubmit = (event) => event.preventDefault();
for (const one of document.querySelectorAll(".switch input")) one.onchange = () => change("display", one.value);
byId("undo").onclick = () => undo("");
byId("keep").onclick = () => send({ kind: "keep" });
byId("drop").onclick = () => { send({ kind: "drop" }); byId("keep").focus(); };
byId("save").onclick = () => send({ kind: "save" });
byId("report").onclick = () => { byId("written").textContent = "Writing the report …"; send({ kind: "report" }); };
byId("xlsx").onclick = download;
byId("band").onclick = () => { byId("band-progress").textContent = "drawing …"; byId("band").disabled = true; send({ kind: "band" }); };
byId("month").append(...MONTHS.map(([name], at) => made("option", { value: at, text: name, selected: at === 6 })));
byId("hour").append(...Array.from({ length: 24 }, (_, at) => made("option", { value: at, text: `${String(at).padStart(2, "0")}:00`, selected: at === 16 })));
byId("months").append(...MONTHS.map(([name]) => made("span", { text: name })));
byId("map-option").onchange = () => { send({ kind: "map", option: byId("map-option").value }); if (picked !== null) askHour(); };
byId("show-hour").onclick = askHour;
byId("map").onclick = (event) => {
  const box = event.target.getBoundingClientRect();
  const day = Math.min(Math.max(Math.floor((event.clientX - box.left) / box.width * 365), 0), 364);
  const hour = Math.min(Math.max(23 - Math.floor((event.clientY - box.top) / box.height * 24), 0), 23);
  [byId("month").value, byId("day").value, byId("hour").value] = dateOf(day * 24 + hour);
  askHour();
};
open();
