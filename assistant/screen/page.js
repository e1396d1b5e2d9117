// The page draws what the bench sends, whole, each time, and knows nothing of axles by itself: every word and every place comes with the view.
// Rules: a number is shown as live only while the bench is heard; what is said from here names the state it was said to; a button that has
// just appeared under a thumb does nothing for a moment.
'use strict';

const L = JSON.parse(document.getElementById('labels').textContent);
const $ = (id) => document.getElementById(id);
const ARMING = 450, ARMING_CAUTION = 1500;

// ---- making elements

const put = (node, attributes, kids) => {
  for (const [name, value] of Object.entries(attributes || {})) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith('on')) node.addEventListener(name.slice(2), value);
    else node.setAttribute(name, value === true ? '' : value);
  }
  for (const kid of kids.flat(Infinity)) if (kid !== null && kid !== undefined && kid !== false && kid !== '') node.append(kid);
  return node;
};
const h = (tag, attributes, ...kids) => put(document.createElement(tag), attributes, kids);
const s = (tag, attributes, ...kids) => put(document.createElementNS('http://www.w3.org/2000/svg', tag), attributes, kids);

// One part of the page is drawn again only when what it shows has changed: focus, scrolling and open lists stay.
const drawn = {};
const part = (id, model, draw) => {
  const text = JSON.stringify(model === undefined ? null : model);
  if (drawn[id] === text) return;
  drawn[id] = text;
  const box = $(id), held = box.contains(document.activeElement) ? document.activeElement.dataset.k : null;
  box.replaceChildren(...[draw(model)].flat(Infinity).filter(Boolean));
  if (held) { const again = box.querySelector(`[data-k="${CSS.escape(held)}"]`); if (again) again.focus(); }
};

const SIGNS = {
  done: 'M2 9l4 4L14 3l-2-1.6L5.8 9.6 3.6 7.4z', now: 'M3 1l11 7L3 15z', ahead: 'M8 2a6 6 0 100 12A6 6 0 008 2zm0 2.2a3.8 3.8 0 110 7.6 3.8 3.8 0 010-7.6z',
  again: 'M8 2a6 6 0 015.7 4.2l2-.2-3.2 4.4L8.3 7l2.3-.3A3.7 3.7 0 108 11.7a3.7 3.7 0 002-.6l1.3 2A6 6 0 118 2z',
  above: 'M8 1l7 9h-4.5v5h-5v-5H1z', below: 'M8 15l7-9h-4.5V1h-5v5H1z', inside: 'M2 9l4 4L14 3l-2-1.6L5.8 9.6 3.6 7.4z',
  caution: 'M8 .8l7.6 13.8H.4zM7 5.6l.4 4.6h1.2L9 5.6zm1 5.4a1 1 0 100 2 1 1 0 000-2z', stop: 'M4.9.5h6.2l4.4 4.4v6.2l-4.4 4.4H4.9L.5 11.1V4.9zM7 3.4l.4 5.4h1.2L9 3.4zm1 6.6a1.1 1.1 0 100 2.2 1.1 1.1 0 000-2.2z',
};
const sign = (name) => s('svg', {class: 'sign', viewBox: '0 0 16 16', 'aria-hidden': 'true'}, s('path', {d: SIGNS[name], fill: 'currentColor', 'fill-rule': 'evenodd'}));

// ---- what is known now

let shown = null;      // the last message of the bench: {at, said, view} or {at, said, failed}
let role = 'bench', lastSeen = 0, beat = 2000, isLive = false, isOver = false;
let figures = '', padFor = '', armed = 0, local = '';
const openPhases = new Set();
let keysOn = recall('keys', 'on') === 'on';

function recall(name, otherwise) { try { return localStorage.getItem(`benchhand.${name}`) || otherwise; } catch { return otherwise; } }
function remember(name, value) { try { localStorage.setItem(`benchhand.${name}`, value); } catch { /* a browser that keeps nothing forgets the switch, no more */ } }

// ---- the line to the bench

let source = null, retry = null;

async function connect() {
  clearTimeout(retry);
  if (source) source.close();
  source = null;
  try {
    if (location.hash.length > 1) {
      const entered = await send('enter', {key: decodeURIComponent(location.hash.slice(1))});
      if (entered.ok) history.replaceState(null, '', location.pathname);
    }
    const asked = await fetch('role', {cache: 'no-store'});
    if (asked.status === 401) return askForKey();
    if (!asked.ok) throw new Error(String(asked.status));
  } catch { return later(); }
  $('entry').hidden = true;
  source = new EventSource('events');
  const own = source;
  const on = (name, act) => own.addEventListener(name, (event) => { if (own === source) { lastSeen = Date.now(); act(event.data); } });
  on('hello', (data) => { const told = JSON.parse(data); role = told.role; beat = told.beat_seconds * 1000; document.body.classList.toggle('viewer', role === 'viewer'); $('viewer').hidden = role !== 'viewer'; });
  on('view', (data) => take(JSON.parse(data)));
  on('beat', () => { if (shown) mark(true); });
  on('over', () => { isOver = true; own.close(); mark(false); later(); });
  own.onerror = () => { if (own === source) { mark(false); later(); } };
}

function later() {
  if (source) source.close();
  source = null;
  mark(false);
  clearTimeout(retry);
  retry = setTimeout(connect, 1500);
}

function askForKey() {
  isOver = false;
  mark(false);
  $('entry').hidden = false;
  $('main').hidden = $('bottom').hidden = true;
}

// A phone that slept, or a wire that was pulled, makes no sound: silence is what tells.
function check() {
  if (isLive && Date.now() - lastSeen > 2.5 * beat) later();
}

function mark(live) {
  isLive = live;
  const view = shown && shown.view, ended = isOver && view && view.end;
  // How a job ended stays true; where it rests, another screen may have taken it up.
  const final = ended && view.end.verdict !== 'stopped';
  document.body.classList.toggle('stale', !live && !final && shown !== null);
  document.body.classList.toggle('over', !live && Boolean(ended));
  document.body.classList.toggle('looking', !live);
  $('live-word').textContent = live ? L.live : final ? L.ended : L.not_live;
  const since = new Date(lastSeen).toLocaleTimeString();
  const text = live || final ? '' : shown === null ? L.looking : ended ? `${L.not_live}. ${L.over}` : `${L.not_live} (${since}). ${L.not_live_long}`;
  if ($('signal').textContent !== text) $('signal').textContent = text;
  document.title = `${live || final ? '' : `${L.not_live} · `}${view ? (view.caution ? `${L.caution} · ` : '') + (view.now.title || view.job.title) : 'benchhand'}`;
}

async function send(door, body) {
  return fetch(door, {method: 'POST', cache: 'no-store', headers: {'content-type': 'application/json'}, body: JSON.stringify(body)});
}

// Gives whether the bench has taken it.
async function say(words) {
  if (!isLive || !shown || role !== 'bench' || Date.now() < armed) return false;
  arm(ARMING);
  let text = '';
  try {
    const answer = await send('say', {words, at: shown.at});
    if (!answer.ok) text = (await answer.json()).text;
  } catch { text = L.not_sent; }
  local = text;
  drawSaid();
  return text === '';
}

let arming = null;
function arm(milliseconds) {
  armed = Math.max(armed, Date.now() + milliseconds);
  document.body.classList.add('arming');
  clearTimeout(arming);
  arming = setTimeout(() => document.body.classList.remove('arming'), armed - Date.now());
}

function take(message) {
  const before = shown;
  shown = message;
  document.body.dataset.at = message.at;
  isOver = false;
  if (!before || before.at !== message.at) {
    local = '';
    const grave = message.view && (message.view.caution || message.view.alarm);
    arm(grave ? ARMING_CAUTION : ARMING);
    if ($('list').open) $('list').close();
    // Whoever has scrolled away must not miss what is new: a caution, an alarm, another step, another change.
    const main = (view) => JSON.stringify(view && [view.now.title, view.caution, view.alarm, view.doubt, view.end, view.move]);
    if (!before || main(before.view) !== main(message.view)) { scrollTo(0, 0); $('page').scrollTop = 0; }
  }
  mark(true);
  draw();
}

// ---- drawing the page

function draw() {
  const view = shown.view;
  $('main').hidden = false;
  document.body.classList.toggle('failed', Boolean(shown.failed));
  if (shown.failed) {
    part('shout', {failed: true}, () => h('div', {class: 'alarm'}, h('p', {class: 'shouted'}, sign('stop'), L.screen_failed)));
    return drawSaid();
  }
  $('job').textContent = view.job.title;
  part('phases', view.way.map((p) => [p.name, p.stands]), (all) => all.map(([name, stands]) =>
    h('li', {class: stands.key, 'aria-current': stands.key === 'now' ? 'step' : null}, sign(stands.key), h('span', {class: 'name'}, name), h('span', {class: 'word'}, `: ${stands.word}`))));
  part('shout', {caution: view.caution, alarm: view.alarm, doubt: view.doubt, end: view.end, talk: view.wait}, drawShout);
  part('now-body', {now: view.now, move: view.move}, drawNow);
  drawSaid();
  $('number').hidden = !view.heard;
  part('number-body', view.heard, (heard) => heard && drawHeard(heard));
  $('expected').hidden = !view.expected;
  part('expected-body', view.expected, (expected) => expected && [
    h('p', {class: 'expect'}, `${expected.name}: ${expected.text}`), expected.scale && drawScale(expected.scale, expected.text)]);
  drawFocus(view);
  drawControls(view);
  const others = ['dial', 'drag', 'print'].filter((name) => view[name] && name !== view.picture);
  $('pictures').hidden = others.length === 0;
  part('pictures-body', others.map((name) => [name, view[name]]), (all) => all.map(([name, model]) => h('div', {}, h('h3', {}, model.title), PICTURES[name](model))));
  part('way-body', view.way, drawWay);
  $('readings').hidden = view.readings.length === 0;
  part('readings-body', view.readings, drawReadings);
}

function drawSaid() {
  const view = shown.view, grave = view && (view.caution || view.alarm || view.end), prompt = view ? view.now.say : '';
  // What is said of a caution, an alarm or the end stands in its own frame.
  const lines = grave || !view ? shown.said.filter((line) => line.fresh && !view) : shown.said.filter((line) => line.fresh && line.text !== prompt && line.text !== view.doubt);
  if (local) lines.push({text: local, urgency: 'here'});
  part('said', lines, (all) => all.map((line) => h('p', {class: line.urgency}, ['warn', 'stop', 'here'].includes(line.urgency) && sign('caution'), line.text)));
  $('now-head').hidden = $('now-body').hidden = Boolean(grave);
  $('now').hidden = Boolean(grave) && lines.length === 0;
  const earlier = shown.said.slice().reverse();
  $('before').hidden = earlier.length === 0;
  part('before-body', earlier, (all) => all.map((line) => h('li', {}, line.text)));
}

function drawShout({caution, alarm, doubt, end, talk}) {
  if (end) return h('div', {class: `end ${end.verdict === 'in spec' ? '' : 'bad'}`},
    h('p', {class: 'shouted'}, sign(end.verdict === 'in spec' ? 'done' : end.verdict === 'stopped' ? 'again' : 'stop'), end.word), h('p', {class: 'sentence'}, end.text));
  if (caution) return h('div', {class: 'caution'},
    h('p', {class: 'shouted'}, sign('caution'), `${L.caution}: ${caution.before_words}`),
    h('p', {class: 'of'}, caution.title), sentence(caution.text), h('div', {class: 'row acting'}, answers(talk)));
  if (alarm) return h('div', {class: 'alarm'},
    h('p', {class: 'shouted'}, sign('stop'), L.stop_sign), sentence(alarm.text), drawSuspects(alarm, talk));
  if (doubt) return h('div', {class: 'doubt'}, h('p', {class: 'shouted'}, sign('caution'), L.doubt), sentence(doubt));
  return null;
}

function drawSuspects(alarm, talk) {
  if (!talk) return null;
  const known = new Map(alarm.likely.map((one) => [one.say, one]));
  const isOpen = talk.for === 'choice' && !talk.quantity;
  const each = alarm.likely.map((one) => h('div', {}, isOpen ? button({say: one.say, label: one.cause, key: ''}, 'answer') : h('p', {class: 'of'}, one.cause),
    h('p', {}, one.check), h('p', {}, `${L.odds}: ${one.odds}`)));
  const rest = isOpen ? talk.answers.filter((one) => !known.has(one.say)) : talk.answers;
  return h('div', {class: 'suspects acting'}, each, h('div', {class: 'more'}, rest.map((one) => button(one, 'answer'))));
}

function drawNow({now, move}) {
  const kids = [h('p', {class: `title ${move ? 'small' : ''}`}, now.title)];
  if (move) {
    if (move.first) kids.push(h('p', {class: 'of'}, move.first));
    kids.push(h('ol', {class: 'headlines'}, move.changes.map((change) => h('li', {}, change.headline))));
    if (move.goes) kids.push(h('p', {class: 'of'}, move.goes));
    kids.push(h('p', {class: 'aside'}, move.why));
  } else {
    if (now.place) kids.push(h('p', {class: 'place'}, now.place));
    if (!now.is_next_place) kids.push(sentence(now.say));
  }
  return kids;
}

// A long sentence gets smaller letters, so that all of it stands on one screen; the title above it never does.
const sentence = (text) => h('p', {class: `sentence ${text.length > 180 ? 'longer' : text.length > 120 ? 'long' : ''}`}, text);

function drawHeard(heard) {
  const isLong = heard.value === null, isVoid = heard.status === 'changed' || heard.status === 'wrong';
  const where = !isVoid && heard.scale && heard.scale.where;
  return h('div', {class: isVoid ? 'void' : heard.status},
    h('p', {class: 'of'}, heard.place ? `${heard.name}, ${heard.place}` : heard.name),
    h('p', {class: `figure ${isLong ? 'long' : ''}`}, isLong ? heard.choice : heard.value, heard.unit && [' ', h('span', {class: 'unit'}, heard.unit)]),
    where && h('div', {class: 'row'}, h('p', {class: `where ${where}`}, sign(where), heard.where_word), heard.by_words && h('p', {class: 'by'}, heard.by_words)),
    h('p', {class: 'status'}, heard.status_words, h('span', {id: 'old'}, ` · ${L.old_number}`)),
    heard.scale && drawScale(heard.scale, [heard.where_word, heard.by_words, heard.limits_words].filter(Boolean).join(' ')),
    heard.limits_words && h('p', {class: 'limits'}, heard.limits_words));
}

function drawScale(scale, words) {
  const x = (at) => 60 + at * .88, low = scale.low, high = scale.high, kids = [];
  const from = low ? x(low.at) : x(0), to = high ? x(high.at) : x(1000);
  if (low || high) {
    kids.push(s('rect', {class: 'zone', x: from, y: 52, width: Math.max(to - from, 4), height: 40, fill: 'url(#hatch)'}));
    for (const limit of low && high && low.at === high.at ? [low] : [low, high]) {
      if (!limit) continue;
      const text = s('text', {class: 'centred', x: x(limit.at), y: 146, 'font-size': 44}, limit.text);
      kids.push(s('path', {class: 'line', d: `M${x(limit.at)} 38V104`, 'stroke-width': 7}), text);
    }
  }
  kids.push(s('path', {class: 'line', d: 'M40 92H960'}));
  if (scale.expected) {
    const e = scale.expected;
    kids.push(s('path', {class: 'mark', d: `M${x(e.from)} 18V34H${x(e.to)}V18`}), s('circle', {class: 'tip', cx: x(e.at), cy: 34, r: 9}));
  }
  if (scale.value) {
    const at = x(scale.value.at), classes = scale.where === 'above' || scale.where === 'below' ? 'off' : 'full';
    // A needle that hangs from above; beyond the paper it lies down and points off.
    if (!scale.value.off) kids.push(s('path', {class: classes, d: `M${at} 94l-24-70h48z`}));
    else kids.push(s('path', {class: classes, d: scale.value.at > 500 ? 'M998 58l-70-26v52z' : 'M2 58l70-26v52z'}));
  }
  return s('svg', {class: 'drawing scale', viewBox: '0 0 1000 156', role: 'img', 'aria-label': words}, kids);
}

// ---- the picture of what is done now

function drawFocus(view) {
  const name = view.picture, model = name && view[name];
  $('focus').hidden = !model;
  const shouts = Boolean(view.caution || view.alarm || view.end);
  $('main').classList.toggle('alone', !model && !view.expected && !view.heard);
  $('main').classList.toggle('grave', shouts);
  $('focus-head').textContent = name === 'move' ? L.move : model ? model.title : '';
  part('focus-body', [name, model], ([which, what]) => what && (which === 'move' ? drawMove(what) : PICTURES[which](what)));
}

function drawMove(move) {
  const pictures = ['carrier', 'pinion'].map((picture) => [picture, move.changes.filter((change) => change.picture === picture)]).filter(([, changes]) => changes.length);
  const notes = move.changes.map((change) => [h('p', {class: 'facts'}, `${change.side_words ? `${change.side_words}: ` : ''}${change.from_to}`),
    change.stack.length > 0 && h('ul', {class: 'packs'}, change.stack.map((shim) => h('li', {}, shim.text)))]);
  if (move.expect) notes.push(h('p', {class: 'facts'}, move.expect.text));
  if (move.chance) notes.push(h('p', {class: `facts ${move.chance.low ? 'low' : ''}`}, move.chance.text));
  return framed(pictures.map(([picture, changes]) => (picture === 'carrier' ? drawCarrier : drawPinion)(move, changes)), notes);
}

const framed = (pictures, notes) => [h('div', {class: 'picture'}, pictures), h('div', {class: 'notes'}, notes)];

const arrow = (x1, y, x2) => { const d = x2 > x1 ? 1 : -1; return [s('path', {class: 'mark', d: `M${x1} ${y}H${x2 - 14 * d}`}), s('path', {class: 'tip', d: `M${x2} ${y}l${-24 * d}-15v30z`})]; };
const more = (change) => (change.way === 'new' ? change.headline : `${{thicker: '+', thinner: '−'}[change.way] || ''}${change.amount}`);
// A rolling bearing as drawings simplify it: a box with a cross.
const bearing = (x, y, w, t) => [s('rect', {class: 'paper', x, y, width: w, height: t}), s('path', {class: 'thin', d: `M${x} ${y}l${w} ${t}M${x + w} ${y}l${-w} ${t}`})];

// The carrier as one faces the housing: left is left. The ring gear's back faces the side that the job names.
function drawCarrier(move, changes) {
  const isLeft = move.axle.ring_gear_side === 'left', m = (x) => (isLeft ? x : 640 - x), box = (x, y, w, t, c) => s('rect', {class: c, x: isLeft ? x : 640 - x - w, y, width: w, height: t});
  const kids = [
    s('path', {class: 'body', d: 'M20 330V120H80V250H560V120H620V330z'}),
    s('path', {class: 'axis', d: 'M10 180H630'}),
    box(200, 130, 240, 100, 'body'),
    s('path', {class: 'paper', d: `M${m(205)} 62H${m(235)}L${m(262)} 84V276L${m(235)} 298H${m(205)}z`}),
    s('path', {class: 'thin', d: [0, 1, 2, 3, 4, 5, 6, 7, 8].map((n) => `M${m(238)} ${70 + n * 26}L${m(260)} ${84 + n * 24}`).join('')}),
    s('circle', {class: 'axis', cx: 320, cy: 268, r: 46}),
    bearing(110, 128, 52, 104), bearing(478, 128, 52, 104),
  ];
  for (const side of ['left', 'right']) {
    const at = changes.findIndex((one) => one.side === side), change = changes[at], left = side === 'left', dir = left ? 1 : -1, e = left ? 0 : 640;
    const X = (x) => e + dir * x;
    kids.push(s('text', {class: `big centred${change ? '' : ' soft'}`, x: X(84), y: 40, 'font-size': 34}, side.toUpperCase()));
    if (move.axle.carrier === 'adjusters') {
      kids.push(s('path', {class: change ? 'hot' : 'body', d: `M${X(62)} 134H${X(106)}V226H${X(62)}z`}));
      kids.push(s('path', {class: 'thin', d: [0, 1, 2, 3, 4, 5].map((n) => `M${X(62)} ${142 + n * 15}H${X(74)}`).join('')}));
      if (change) kids.push(change.way === 'tighten' ? arrow(X(16), 100, X(150)) : arrow(X(150), 100, X(16)));
    } else {
      const x = move.axle.carrier === 'case-shims' ? 166 : 84, wide = change && change.way === 'thicker' ? 26 : change && change.way === 'thinner' ? 12 : 18;
      kids.push(s('rect', {class: change ? 'hot' : 'body', x: left ? x : 640 - x - wide, y: 120, width: wide, height: 120}));
      if (change && change.way !== 'fit') kids.push(s('text', {class: `big ${left ? '' : 'ending'}`, x: X(66), y: 326, 'font-size': 30}, more(change)));
    }
    if (change && changes.length > 1) kids.push(s('circle', {class: 'hot', cx: X(36), cy: 300, r: 24}), s('text', {class: 'on-hot centred', x: X(36), y: 311, 'font-size': 32}, String(at + 1)));
  }
  if (move.ring) kids.push(move.ring === 'left' ? arrow(m(235) + 75, 46, m(235) - 45) : arrow(m(235) - 75, 46, m(235) + 45));
  const words = `${changes.map((one) => one.headline).join('; ')}. ${move.goes || ''}`;
  return s('svg', {class: 'drawing', viewBox: '0 0 640 345', role: 'img', 'aria-label': words}, kids);
}

// The pinion cut lengthwise, its head to the left at the ring gear's centre line.
function drawPinion(move, changes) {
  const has = (name) => changes.find((one) => one.part === name), hot = (name) => (has(name) ? 'hot' : 'body');
  const place = move.axle.pinion_shims, kids = [
    s('path', {class: 'axis', d: 'M40 20V320'}), s('path', {class: 'axis', d: 'M20 170H630'}),
    s('path', {class: 'body', d: 'M190 66H470V104H190zM190 236H470V274H190z'}),
    s('path', {class: 'paper', d: 'M70 140L170 92V248L70 200z'}),
    s('path', {class: 'thin', d: [0, 1, 2, 3, 4, 5, 6].map((n) => `M${76 + n * 14} ${138 - n * 6.6}V${202 + n * 6.6}`).join('')}),
    s('rect', {class: 'paper', x: 170, y: 150, width: 400, height: 40}),
    bearing(200, 104, 54, 44), bearing(200, 192, 54, 44), bearing(400, 104, 54, 44), bearing(400, 192, 54, 44),
    s('path', {class: 'body', d: 'M480 126H504V214H480z'}), s('path', {class: hot('crush_nut'), d: 'M512 128H548V212H512z'}),
  ];
  const both = (name, x, w, y, t) => [s('rect', {class: hot(name), x, y, width: w, height: t}), s('rect', {class: hot(name), x, y: 340 - y - t, width: w, height: t})];
  if (place === 'flange') {
    kids.push(s('path', {class: 'body', d: 'M250 14H286V66H250zM250 274H286V326H250z'}), s('path', {class: 'body', d: 'M302 30H338V66H302zM302 274H338V310H302z'}), both('pinion_shims', 288, 12, 24, 42));
  } else kids.push(place === 'head-cone' ? both('pinion_shims', 178, 14, 106, 42) : both('pinion_shims', 258, 14, 106, 26));
  if (move.axle.preload === 'crush-sleeve') {
    const d = 'M284 128H320Q340 108 360 128H392V142H360Q340 124 320 142H284z';
    kids.push(s('path', {class: hot('crush_sleeve'), d}), s('path', {class: hot('crush_sleeve'), d, transform: 'translate(0 340) scale(1 -1)'}));
  } else kids.push(s('rect', {class: 'body', x: 284, y: 126, width: 92, height: 18}), s('rect', {class: 'body', x: 284, y: 196, width: 92, height: 18}), both('preload_shims', 380, 12, 118, 30));
  // Each change is named above the tube, with a line down to what it is.
  const callouts = [['pinion_shims', ...(place === 'flange' ? [300, 34, 346, 14, 354, 26] : place === 'head-cone' ? [185, 106, 185, 50, 192, 44] : [265, 106, 265, 50, 272, 44])],
    ['preload_shims', 386, 118, 386, 50, 394, 44], ['crush_sleeve', 340, 112, 340, 50, 348, 44], ['crush_nut', 530, 128, 530, 100, 500, 90]];
  for (const [name, x, y, ex, ey, tx, ty] of callouts) {
    const change = has(name);
    if (change && change.way !== 'fit') kids.push(s('path', {class: 'line', d: `M${x} ${y}L${ex} ${ey}`}), s('text', {class: 'big', x: tx, y: ty, 'font-size': 32}, more(change)));
  }
  if (move.pinion) kids.push(move.pinion === 'out' ? arrow(70, 300, 180) : arrow(180, 300, 70));
  const words = `${changes.map((one) => one.headline).join('; ')}. ${move.goes || ''}`;
  return s('svg', {class: 'drawing', viewBox: '0 0 640 340', role: 'img', 'aria-label': words}, kids);
}

// ---- the pictures of what was measured

const PICTURES = {dial: drawDial, drag: drawDrag, print: drawPrints};

function drawDial(dial) {
  const R = (at) => 62 + at * .128, turn = (degrees, r) => { const a = (degrees - 90) * Math.PI / 180; return [230 + r * Math.cos(a), 220 + r * Math.sin(a)]; };
  const to = (degrees, r) => turn(degrees, r).map((v) => v.toFixed(1)).join(' '), kids = [], limits = dial.limits;
  const ring = (r) => `M${230 - r} 220a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0`;
  kids.push(s('path', {class: 'body', 'fill-rule': 'evenodd', d: `${ring(205)}z${ring(198)}z`}));
  kids.push(s('path', {class: 'thin', d: Array.from({length: 36}, (_, n) => `M${to(n * 10, 198)}L${to(n * 10 + 3, 212)}`).join('')}));
  if (limits && (limits.low || limits.high)) {
    const out = R(limits.high ? limits.high.at : 1000), inside = R(limits.low ? limits.low.at : 0);
    kids.push(s('path', {class: 'zone', 'fill-rule': 'evenodd', fill: 'url(#hatch)', d: `${ring(out)}z${ring(inside)}z`}));
    if (limits.high) kids.push(s('text', {class: 'soft centred', x: 230, y: 220 + out + 26, 'font-size': 26}, limits.high.text));
    if (limits.low) kids.push(s('text', {class: 'soft centred', x: 230, y: 220 + inside - 8, 'font-size': 26}, limits.low.text));
  }
  if (dial.expected.length) kids.push(s('path', {class: 'dash', d: `M${dial.expected.map((at, n) => to(n * 360 / dial.expected.length, R(at))).join('L')}z`}));
  for (const spot of dial.spots) {
    const [x, y] = turn(spot.degrees, 205);
    kids.push(s('path', {class: 'thin', d: `M${to(spot.degrees, 30)}L${to(spot.degrees, 196)}`}));
    kids.push(s('circle', {class: spot.here ? 'hot' : 'hollow', cx: x, cy: y, r: 20}), s('text', {class: `centred ${spot.here ? 'on-hot' : ''}`, x, y: y + 8, 'font-size': 23}, String(spot.index)));
    if (spot.at === null) continue;
    const [px, py] = turn(spot.degrees, R(spot.at)), up = spot.where === 'above', off = up || spot.where === 'below';
    if (spot.void) kids.push(s('circle', {class: 'hollow', cx: px, cy: py, r: 10}), s('path', {class: 'line', d: `M${px - 12} ${py + 12}l24-24`}));
    else kids.push(off ? s('path', {class: 'off', d: `M${px} ${py + (up ? -15 : 15)}l14 ${up ? 25 : -25}h-28z`}) : s('circle', {class: 'full', cx: px, cy: py, r: 11}));
    const [tx, ty] = turn(spot.degrees, 236), away = Math.abs(tx - 230) < 20 ? 'centred' : tx < 230 ? 'ending' : '';
    kids.push(s('text', {class: `big ${away}`, x: tx, y: ty + (away === 'centred' ? (ty < 220 ? -4 : 26) : 12), 'font-size': 34, 'text-decoration': spot.void ? 'line-through' : null}, spot.text));
  }
  kids.push(s('text', {class: 'centred soft', x: 230, y: 227, 'font-size': 18}, dial.unit));
  const told = dial.spots.filter((spot) => spot.text).map((spot) => `${spot.index}: ${spot.text}${spot.void ? ` (${L.void})` : ''}`).join(', ');
  return framed(s('svg', {class: 'drawing', viewBox: '-150 -50 760 540', role: 'img', 'aria-label': `${dial.title}. ${told}. ${dial.variation ? dial.variation.text : ''}`}, kids), [
    dial.variation && h('p', {class: `facts ${dial.variation.where === 'above' ? 'low' : ''}`}, dial.variation.where && sign(dial.variation.where), dial.variation.text),
    dial.expected.length > 0 && h('p', {class: 'caption'}, dial.expected_words)]);
}

function drawDrag(drag) {
  const X = (at) => 70 + at * .38, Y = (at) => 262 - at * .24, kids = [], limits = drag.limits;
  if (limits.low || limits.high) {
    const top = limits.high ? Y(limits.high.at) : 22, base = limits.low ? Y(limits.low.at) : 262;
    kids.push(s('rect', {class: 'zone', x: 70, y: top, width: 380, height: Math.max(base - top, 2), fill: 'url(#hatch)'}));
    for (const limit of [limits.low, limits.high]) if (limit) kids.push(s('text', {class: 'ending', x: 62, y: Y(limit.at) + 7, 'font-size': 20}, limit.text));
  }
  if (drag.curve.length) {
    kids.push(s('path', {class: 'spread', d: `M${drag.curve.map((p) => `${X(p[0])} ${Y(p[3])}`).join('L')}L${drag.curve.slice().reverse().map((p) => `${X(p[0])} ${Y(p[1])}`).join('L')}z`}));
    kids.push(s('path', {class: 'dash', d: `M${drag.curve.map((p) => `${X(p[0])} ${Y(p[2])}`).join('L')}`}));
  }
  kids.push(s('path', {class: 'line', d: 'M70 18V262H454'}));
  if (drag.here !== null) kids.push(s('path', {class: 'tip', d: `M${X(drag.here)} 264l-12 20h24z`}));
  const labels = [];
  for (const point of [...drag.points].sort((one, other) => one.void - other.void)) {
    const x = X(point.x), y = Y(point.y), isFree = labels.every(([lx, ly]) => Math.abs(lx - x) > 46 || Math.abs(ly - y) > 22);
    if (isFree) labels.push([x, y]);
    kids.push(s('circle', {class: point.void ? 'hollow' : 'full', cx: x, cy: y, r: 10}), point.void && s('path', {class: 'line', d: `M${x - 11} ${y + 11}l22-22`}),
      isFree && s('text', {class: 'big', x: x + 15, y: y - 9, 'font-size': 22, 'text-decoration': point.void ? 'line-through' : null}, point.text));
  }
  kids.push(s('text', {class: 'soft', x: 70, y: 306, 'font-size': 18}, drag.x_ends[0]), s('text', {class: 'soft ending', x: 454, y: 306, 'font-size': 18}, drag.x_ends[1]), s('text', {class: 'soft ending', x: 62, y: 30, 'font-size': 18}, drag.unit));
  const told = drag.points.map((point) => `${point.x_text}: ${point.text}`).join(', ');
  return framed(s('svg', {class: 'drawing', viewBox: '0 0 470 314', role: 'img', 'aria-label': `${drag.title}. ${told} ${drag.unit}`}, kids), [
    h('p', {class: 'caption'}, drag.x_words), drag.curve.length > 0 && h('p', {class: 'caption'}, drag.expected_words)]);
}

function drawPrints(prints) {
  return h('div', {class: 'flanks'}, prints.flanks.map((flank) => {
    // One flank seen square on: low and short at the toe, high at the heel.
    const edge = (x, y) => [40 + x * 250, 106 + (y - .5) * (70 + 64 * x)], at = {toe: .17, centre: .5, heel: .83, tip: .18, middle: .5, root: .82};
    const point = (x, y) => edge(x, y).map((v) => v.toFixed(1)).join(' '), kids = [
      s('path', {class: flank.here ? 'paper' : 'body', d: `M${point(0, 0)}L${point(1, 0)}L${point(1, 1)}L${point(0, 1)}z`}),
      s('path', {class: 'thin', d: [1 / 3, 2 / 3].map((t) => `M${point(t, 0)}L${point(t, 1)}M${point(0, t)}L${point(1, t)}`).join('')}),
      s('text', {class: 'ending', x: 34, y: 112, 'font-size': 17}, prints.marks.toe), s('text', {x: 296, y: 112, 'font-size': 17}, prints.marks.heel),
      s('text', {class: 'centred', x: 165, y: 44, 'font-size': 17}, prints.marks.tip), s('text', {class: 'centred', x: 165, y: 180, 'font-size': 17}, prints.marks.root)];
    const groups = new Map();
    for (const print of flank.prints) {
      const place = `${print.text} ${print.void}`;
      groups.set(place, {...print, spots: [...(groups.has(place) ? groups.get(place).spots : []), print.spot].filter(Boolean)});
    }
    for (const print of groups.values()) {
      if (!print.along) { kids.push(s('text', {class: 'centred big', x: 165, y: 118, 'font-size': 40}, '?')); continue; }
      const [x, y] = edge(at[print.along], at[print.across]);
      kids.push(s('ellipse', {class: print.void ? 'hollow' : 'hot', cx: x, cy: y, rx: 38, ry: 16}));
      if (print.void) kids.push(s('path', {class: 'line', d: `M${x - 40} ${y + 18}l80-36`}));
      kids.push(s('text', {class: `centred ${print.void ? '' : 'on-hot'}`, x, y: y + 7, 'font-size': 19}, print.spots.join(' ')));
    }
    const told = [...new Set(flank.prints.map((print) => print.text))].join(', ') || prints.none;
    return h('div', {}, s('svg', {class: 'drawing', viewBox: '0 24 336 166', role: 'img', 'aria-label': `${flank.flank}: ${told}`}, kids),
      h('p', {class: 'facts'}, flank.here && sign('now'), `${flank.flank}: `, h('span', {class: flank.prints.length && flank.prints.every((print) => print.void) ? 'gone' : ''}, told)));
  }));
}

// ---- the way, the readings

function drawWay(way) {
  return way.map((phase) => {
    const key = phase.stands.key, box = h('details', {open: key === 'now' || key === 'again' || openPhases.has(phase.phase)},
      h('summary', {'data-k': `phase ${phase.phase}`, onclick: () => openPhases[box.open ? 'delete' : 'add'](phase.phase)}, sign(key), phase.name, h('span', {class: 'word'}, phase.stands.word)),
      h('ol', {class: 'steps'}, phase.steps.map((step) => h('li', {class: step.stands}, h('span', {}, sign(step.stands), step.title),
        step.void.map((text) => h('span', {class: 'gone'}, text)), h('span', {class: 'word'}, step.word)))));
    return box;
  });
}

function drawReadings(readings) {
  return h('table', {}, h('tbody', {}, readings.map((one) => h('tr', {}, h('th', {scope: 'row'}, one.place ? `${one.name}, ${one.place}` : one.name),
    h('td', {class: one.status === 'kept' ? '' : 'gone'}, one.figures), h('td', {}, one.status_words), h('td', {}, one.source)))));
}

// ---- everything that can be said

function button(one, weight, words) {
  return h('button', {type: 'button', class: `${weight} ${one.say === 'no' ? 'no' : ''}`, 'data-k': one.say, 'data-say': one.say, 'aria-keyshortcuts': one.key && keysOn ? one.key : null,
    onclick: words || (() => say(one.say))}, one.label, one.key && h('kbd', {'aria-hidden': 'true'}, one.key.toUpperCase()));
}
const answers = (wait) => (wait ? wait.answers.map((one) => button(one, 'answer')) : []);
const QUICK = ['take', 'no', 'repeat', 'undo', 'stop'];
const LISTS = {'go back': ['go_back', 'go_back_to'], correct: ['correct', 'correct_which'], 'change unit': ['change_unit', 'change_unit_which']};

function drawControls(view) {
  const wait = view.wait, inShout = Boolean(view.caution || view.alarm), pad = wait && wait.pad;
  $('bottom').hidden = !wait;
  $('bottom').classList.toggle('padless', !pad);
  const here = pad ? JSON.stringify([wait.quantity, wait.for, pad.unit, view.now.place, pad.part]) : '';
  if (here !== padFor) { padFor = here; figures = ''; }
  $('pad').hidden = !pad;
  part('pad', pad, (model) => model && drawPad(model));
  showFigures();
  const isGrid = Boolean(wait && wait.grid && !inShout && !view.held);
  $('answers').classList.toggle('grid', isGrid);
  part('answers', inShout || !wait ? [] : wait.answers.filter((one) => one.say !== 'take'), (all) => (isGrid ? asOnTheTooth(all) : all).map((one) => button(one, 'answer')));
  part('quick', wait ? [...wait.answers.filter((one) => one.say === 'take'), ...wait.talk.filter((one) => QUICK.includes(one.say))] : [], (all) => all.map((one) => button(one, one.weight)));
  part('talk-body', wait ? wait.talk.filter((one) => !QUICK.includes(one.say)) : [], (all) => all.map((one) => button(one, one.weight, one.say in LISTS && (() => openList(one.say)))));
  $('talk').hidden = !wait;
}

// The prints in the order of the tooth: tip above, root below, toe to the left.
function asOnTheTooth(all) {
  const found = new Map(all.map((one) => [one.say, one])), order = [];
  for (const across of ['tip', 'middle', 'root']) for (const along of ['toe', 'centre', 'heel']) order.push(found.get(`${along} ${across}`));
  return [...order.filter(Boolean), ...all.filter((one) => !order.includes(one))];
}

function drawPad(pad) {
  const key = (label, act, name) => h('button', {type: 'button', class: 'key', 'data-k': `key ${label}`, 'aria-label': name, onclick: act}, label);
  const figure = (text) => key(text, () => type(text));
  return [
    h('div', {class: 'shown'}, h('span', {class: 'of'}, pad.part ? `${pad.name}, ${pad.part}` : pad.name), h('output', {id: 'figures', 'aria-label': pad.name}), h('span', {class: 'unit', 'aria-label': pad.unit_words}, pad.unit)),
    h('button', {type: 'button', class: 'answer enter', 'data-k': 'enter', id: 'enter', onclick: enter}, L.enter),
    '123456'.split('').map(figure), '7890'.split('').map(figure),
    pad.signed ? key('±', () => type('±'), L.plus_minus) : key(L.decimal, () => type('.')), key('⌫', () => type('⌫'), L.rub),
  ];
}

function type(text) {
  const pad = shown && shown.view && shown.view.wait && shown.view.wait.pad;
  if (!pad) return;
  const sign = figures.match(/^[+-]/) ? figures[0] : '';
  if (text === '⌫') figures = figures.slice(0, -1);
  else if ('±+-'.includes(text)) { if (pad.signed) figures = (text === '±' ? (sign === '+' ? '-' : '+') : text) + figures.slice(sign.length); }
  else if (text === '.') { if (!figures.includes('.')) figures += figures === '' ? '0.' : '.'; }
  else if (figures.replace(/\D/g, '').length < 9) figures += text;
  showFigures();
}

// A point inside, the language's own mark outside: what is shown is what is said.
const inWords = (text) => text.replace('.', L.decimal);

function showFigures() { const box = $('figures'); if (box && box.textContent !== inWords(figures)) box.textContent = inWords(figures); }

function enter() {
  const pad = shown && shown.view && shown.view.wait && shown.view.wait.pad;
  if (!pad || !/\d/.test(figures) || Date.now() < armed) return;
  // The unit that stands here is the unit that is said: were it another by now, the bench would not take it.
  say(inWords(figures.replace(/\.$/, '')) + pad.suffix).then((taken) => { if (taken) { figures = ''; showFigures(); } });
}

function openList(which) {
  const [name, head] = LISTS[which], entries = shown.view.wait[name];
  $('list-head').textContent = L[head];
  $('list-body').replaceChildren(...entries.map((one) => button({...one, key: ''}, 'talk', () => { $('list').close(); say(one.say); })));
  $('list').showModal();
}

// ---- keys and switches

document.addEventListener('keydown', (event) => {
  if (!keysOn || event.ctrlKey || event.metaKey || event.altKey || event.repeat || !shown || !shown.view || !shown.view.wait) return;
  if (event.target.matches('input') || $('list').open || $('main').hidden) return;
  const wait = shown.view.wait, key = event.key;
  if (wait.pad && (/^[\d.+-]$/.test(key) || key === L.decimal || key === 'Backspace')) { event.preventDefault(); return type(key === 'Backspace' ? '⌫' : key === L.decimal ? '.' : key); }
  if (wait.pad && key === 'Enter' && figures && !event.target.matches('button, summary')) { event.preventDefault(); return enter(); }
  const one = [...wait.answers, ...wait.talk].find((each) => each.key && each.key === key.toLowerCase());
  if (!one) return;
  event.preventDefault();
  if (one.say in LISTS) openList(one.say); else say(one.say);
});

const SWITCHES = {light: ['auto', 'day', 'night'], size: ['near', 'far'], keys: ['on', 'off']};
const root = document.documentElement;
const now = {light: recall('light', 'auto'), size: recall('size', matchMedia('(min-width: 100rem)').matches ? 'far' : 'near'), keys: keysOn ? 'on' : 'off'};
for (const [name, values] of Object.entries(SWITCHES)) {
  const box = $(`switch-${name}`), show = () => {
    box.textContent = L[`${name}_${now[name]}`];
    if (name === 'keys') { keysOn = now.keys === 'on'; document.body.classList.toggle('no-keys', !keysOn); } else root.dataset[name] = now[name];
  };
  box.addEventListener('click', () => { now[name] = values[(values.indexOf(now[name]) + 1) % values.length]; remember(name, now[name]); show(); });
  show();
}
$('list-close').addEventListener('click', () => $('list').close());
$('words-form').addEventListener('submit', (event) => { event.preventDefault(); const words = $('words').value.trim(); if (words) say(words).then((taken) => { if (taken) $('words').value = ''; }); });
$('entry').addEventListener('submit', async (event) => {
  event.preventDefault();
  try {
    const answer = await send('enter', {key: $('key').value});
    $('key-said').textContent = answer.ok ? '' : L.key_wrong;
    if (answer.ok) connect();
  } catch { $('key-said').textContent = L.not_sent; }
});
// The picture gets what the header, the words above it and the buttons leave of the screen.
const measure = new ResizeObserver(() => {
  root.style.setProperty('--chrome', `${document.querySelector('header').offsetHeight + $('bottom').offsetHeight}px`);
});
for (const box of [document.querySelector('header'), $('bottom')]) measure.observe(box);
for (const name of ['visibilitychange', 'online', 'focus', 'pageshow']) addEventListener(name, check);
addEventListener('hashchange', connect);
setInterval(check, 500);
mark(false);
connect();
