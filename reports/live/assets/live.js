"use strict";
// The page holds no figures of its own: it shows what the server sends, and sends what is changed.

const byId = (id) => document.getElementById(id);
const made = (tag, options = {}, ...children) => {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(options)) {
    if (name === "text") element.textContent = value;
    else if (value === true) element.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) element.setAttribute(name, value);
  }
  element.append(...children);
  return element;
};

let socket = null;
let session = sessionStorage.getItem("session");
let number = 0;          // of the last change sent
let answered = 0;        // of the last answer shown
let tries = 0;
let lastAnswer = null;
let refusals = {};       // sentence by path
let mapValues = null;
const waiting = [];      // sent while the socket was closed

function open() {
  const address = new URL("socket", location.href);
  address.protocol = "ws:";
  socket = new WebSocket(address);
  socket.onopen = () => {
    tries = 0;
    banner("");
    socket.send(JSON.stringify({ kind: "hello", session, number }));
    while (waiting.length) socket.send(waiting.shift());
  };
  socket.onmessage = (event) => taken(JSON.parse(event.data));
  socket.onclose = () => {
    tries += 1;
    banner(tries < 4 ? "The connection was lost; trying again …"
      : "The program behind this page has ended. Start it again with: dewledger live");
    setTimeout(open, Math.min(400 * 2 ** tries, 8000));
  };
}

function send(message) {
  const text = JSON.stringify(message);
  if (socket && socket.readyState === WebSocket.OPEN) socket.send(text);
  else waiting.push(text);
}

function change(path, value) {
  number += 1;
  delete refusals[path];
  send({ kind: "set", path, value, number });
  byId("working").textContent = "Solving …";
}

function banner(text) {
  byId("banner").textContent = text;
  byId("banner").hidden = !text;
}

function taken(message) {
  const kind = message.kind;
  if (kind === "hello") {
    session = message.session;
    sessionStorage.setItem("session", session);
    byId("xlsx").href = `download/${session}/results.xlsx`;
    showState(message);
  } else if (kind === "state") {
    showState(message);
  } else if (kind === "compiling") {
    byId("working").textContent = "First run: compiling the hourly solution, once; this takes a while.";
  } else if (kind === "answer") {
    showAnswer(message);
  } else if (kind === "pictures") {
    showPictures(message.pictures);
  } else if (kind === "map") {
    showMap(message);
  } else if (kind === "hour") {
    const figure = byId("hour-picture");
    figure.replaceChildren(picture(message), made("figcaption", { text: `${message.title}. ${message.caption}` }));
  } else if (kind === "refused") {
    refusals[message.path || ""] = message.sentence;
    showRefusals();
    byId("working").textContent = "The last good answer stays.";
  } else if (kind === "saved") {
    byId("written").textContent = `Wrote ${message.path}`;
  } else if (kind === "reported") {
    byId("written").textContent = `Wrote ${message.path}`;
  } else if (kind === "working") {
    byId("written").textContent = `${message.what} …`;
  } else if (kind === "progress") {
    byId("band-progress").textContent = `${message.what}: ${message.done} of ${message.total}`;
  } else if (kind === "band") {
    showBand(message.options);
  }
}

function showState(message) {
  showFields(message.fields);
  const list = byId("changed");
  list.replaceChildren(...message.changed.map((one) => made("li", {},
    made("span", { text: `${one.label}: ${one.before} → ${one.now}` }),
    undoButton(one))));
  byId("no-changes").hidden = message.changed.length > 0;
  byId("undo").disabled = message.changed.length === 0;
}

function undoButton(one) {
  const button = made("button", { type: "button", text: "Undo", "aria-label": `Undo ${one.label}` });
  button.onclick = () => { number += 1; send({ kind: "undo", path: one.path, number }); };
  return button;
}

function showFields(fields) {
  const form = byId("fields");
  if (!form.children.length) buildFields(form, fields);
  for (const one of fields) {
    const box = form.querySelector(`[data-path="${CSS.escape(one.path)}"]`);
    if (!box) continue;
    const text = box.querySelector("input[type=text]");
    if (document.activeElement !== text || !(one.path in refusals)) text.value = one.value;
    const range = box.querySelector("input[type=range]");
    if (range && one.slider) {
      range.min = one.slider.low; range.max = one.slider.high; range.step = one.slider.step;
      if (document.activeElement !== range || one.value === one.case_value) range.value = one.slider.value;
      range.setAttribute("aria-valuetext", one.value);
      range.dataset.unit = one.slider.unit;
      const mark = box.querySelector(".marked-at span");
      if (mark && one.slider.mark !== null) {
        const share = (one.slider.mark - one.slider.low) / (one.slider.high - one.slider.low);
        mark.style.left = `${Math.min(Math.max(share, 0), 1) * 100}%`;
      }
    }
    const origin = box.querySelector(".origin");
    const differs = one.value !== one.case_value;
    origin.textContent = differs ? `changed; the case says ${one.case_value || "nothing"}`
      : one.value ? "as the case says" : "not stated; the default holds";
    origin.classList.toggle("changed", differs);
  }
  showRefusals();
}

function buildFields(form, fields) {
  const groups = new Map();
  for (const one of fields) {
    if (!groups.has(one.group)) groups.set(one.group, []);
    groups.get(one.group).push(one);
  }
  let count = 0;
  for (const [group, members] of groups) {
    const set = made("fieldset", {}, made("legend", { text: group }));
    for (const one of members) {
      count += 1;
      const id = `field-${count}`;
      const text = made("input", { type: "text", id, "aria-describedby": `${id}-help ${id}-origin ${id}-refused` });
      text.onchange = () => change(one.path, withUnit(text.value, box));
      const row = made("div", { class: "row" }, text);
      if (one.units.length > 1) {
        const unit = made("select", { "aria-label": `Unit of ${one.label}` },
          ...one.units.map((name) => made("option", { value: name, text: name })));
        unit.onchange = () => change(one.path, withUnit(text.value.replace(/[^-+0-9.,eE].*$/, "").trim(), box));
        row.append(unit);
      }
      const unknown = made("button", { type: "button", text: "Don’t know", "aria-label": `Don’t know: ${one.label}` });
      unknown.onclick = () => change(one.path, null);
      row.append(unknown);
      const box = made("div", { class: "field", "data-path": one.path },
        made("label", { for: id, text: one.label }), row);
      if (one.slider) {
        const range = made("input", { type: "range", "aria-label": `Move ${one.label}` });
        range.oninput = () => change(one.path, `${range.value} ${range.dataset.unit}`);
        box.append(range, made("div", { class: "marked-at", "aria-hidden": "true" }, made("span", { title: "the case’s value" })));
      }
      box.append(made("p", { class: "help", id: `${id}-help`, text: one.help }),
        made("span", { class: "origin", id: `${id}-origin` }),
        made("p", { class: "refused", id: `${id}-refused`, role: "alert", hidden: true }));
      set.append(box);
    }
    form.append(set);
  }
  form.onsubmit = (event) => event.preventDefault();
}

function withUnit(text, box) {
  const unit = box.querySelector("select");
  return unit && /^[-+0-9.,]+$/.test(text.trim()) ? `${text.trim()} ${unit.value}` : text.trim();
}

function showRefusals() {
  for (const box of document.querySelectorAll(".field")) {
    const line = box.querySelector(".refused");
    const sentence = refusals[box.dataset.path];
    line.textContent = sentence || "";
    line.hidden = !sentence;
    box.querySelector("input[type=text]").setAttribute("aria-invalid", sentence ? "true" : "false");
  }
  if (refusals[""]) { banner(refusals[""]); delete refusals[""]; }
}

function showAnswer(message) {
  answered = message.number;
  lastAnswer = message;
  document.title = `${message.title} – Dewledger live`;
  byId("title").textContent = message.title;
  byId("place").textContent = message.place;
  byId("working").textContent = answered < number ? "Solving …" : "";
  byId("sentences").replaceChildren(...message.sentences.map((text) => made("p", { text })));
  fill(byId("table"), message.table);
  byId("note").textContent = message.table.note;
  const choose = byId("map-option");
  const chosen = choose.value || message.options[message.options.length - 1].key;
  choose.replaceChildren(...message.options.map((one) => made("option", { value: one.key, text: one.title })));
  choose.value = chosen;
  send({ kind: "map", option: choose.value });
  document.body.dataset.answered = answered;
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
  return made("img", { alt: one.alt, src: `data:image/svg+xml;charset=utf-8,${encodeURIComponent(one.svg)}` });
}

function showPictures(pictures) {
  byId("pictures").replaceChildren(...Object.values(pictures).map((one) => made("figure", {},
    made("h2", { text: one.title }), picture(one), made("figcaption", { text: one.caption }))));
  document.body.dataset.drawn = answered;
}

// The map of the year: humid hours dark, hours in range pale, dry hours hatched by their lightness.
function showMap(message) {
  mapValues = Uint8Array.from(atob(message.values), (c) => c.charCodeAt(0));
  const canvas = byId("map");
  const context = canvas.getContext("2d");
  for (let hour = 0; hour < 8760; hour += 1) {
    const rh = mapValues[hour] / 2;
    context.fillStyle = rh > message.high ? (rh > message.high + 10 ? "#123c5a" : "#3f7396")
      : rh < message.low ? "#d9a441" : "#dfe7ea";
    context.fillRect(2 * Math.floor(hour / 24), 6 * (23 - (hour % 24)), 2, 6);
  }
  byId("map-key").textContent = `${message.title}: dark blue is more than 10 % RH above ${message.high.toFixed(0)} % RH, `
    + `mid blue above it, pale in range, amber below ${message.low.toFixed(0)} % RH.`;
}

function askHour() {
  const day = Number(byId("day").value);
  const hour = Number(byId("hour").value);
  send({ kind: "hour", option: byId("map-option").value, hour: (day - 1) * 24 + hour });
}

function showBand(options) {
  byId("band-progress").textContent = "";
  fill(byId("band-table"), {
    caption: "Yearly saving against the reference",
    heads: [{ text: "Option" }, ...["P10", "P50", "P90"].map((text) => ({ text, unit: options[0].currency, number: true }))],
    rows: options.map((one) => ({ head: one.title, cells: [one.p10, one.p50, one.p90].map((value) => ({
      text: Number(value.toPrecision(3)).toLocaleString("en-US").replace("-", "−"), number: true })) })),
  });
}

byId("undo").onclick = () => { number += 1; send({ kind: "undo", number }); };
byId("save").onclick = () => send({ kind: "save" });
byId("report").onclick = () => send({ kind: "report" });
byId("band").onclick = () => { byId("band-progress").textContent = "drawing …"; send({ kind: "band" }); };
byId("keep").onclick = () => {
  if (!lastAnswer) return;
  fill(byId("kept-table"), lastAnswer.table);
  byId("kept").hidden = false;
};
byId("drop").onclick = () => { byId("kept").hidden = true; };
byId("map-option").onchange = () => send({ kind: "map", option: byId("map-option").value });
byId("show-hour").onclick = askHour;
byId("map").onclick = (event) => {
  const box = event.target.getBoundingClientRect();
  const day = Math.floor((event.clientX - box.left) / box.width * 365);
  const hour = 23 - Math.floor((event.clientY - box.top) / box.height * 24);
  byId("day").value = Math.min(Math.max(day, 0), 364) + 1;
  byId("hour").value = Math.min(Math.max(hour, 0), 23);
  askHour();
};
open();
