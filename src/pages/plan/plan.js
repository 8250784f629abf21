'use strict';
// The walk through a plan. What may be the case is a list of worlds (sets of faults) with their probabilities; what is
// found multiplies each by its likelihood, as the program does it. Nothing leaves the page.
(function () {
  const D = JSON.parse(document.getElementById('data').textContent);
  const $ = (id) => document.getElementById(id);
  const el = (name, text, attributes) => {
    const e = document.createElement(name);
    if (text !== undefined) e.textContent = text;
    for (const [key, value] of Object.entries(attributes || {})) e.setAttribute(key, value);
    return e;
  };

  // ---- Worlds: [mass, present, needed]; both are lists of suspects in rising order. ----

  const start = D.worlds.map(([mass, present, need]) => [mass, present, need || present]);

  // P(level | these suspects), one number a level: each alone has its own, and the highest shows.
  function levels(reading, present) {
    const cdf = reading.base.slice();
    for (const [suspect, own] of reading.links) {
      if (present.includes(suspect)) own.forEach((p, l) => { cdf[l] *= p; });
    }
    return cdf.map((p, l) => Math.max(0, p - (l ? cdf[l - 1] : 0)));
  }

  // Multiplies every world by the likelihood of what was found.
  function weigh(worlds, likelihood) {
    return worlds.map(([m, p, n]) => [m * likelihood(p), p, n]).filter((w) => w[0] > 0);
  }

  // What a repair makes of a world: [present, needed, probability].
  function repaired(present, need, repair) {
    const left = present.filter((s) => !repair.removes.includes(s));
    let out = [[present, need, 1]];
    for (const s of present.filter((x) => repair.removes.includes(x))) {
      let goes = 1 - repair.fails;
      for (const [victim, cause, chance] of D.returns) {
        if (victim === s && left.includes(cause)) goes *= 1 - chance;
      }
      const without = (list) => list.filter((x) => x !== s);
      out = out.flatMap(([p, n, q]) => [[without(p), without(n), q * goes], [p, n, q * (1 - goes)]]);
    }
    return out.filter((o) => o[2] > 0);
  }

  function merged(worlds) {
    const all = new Map();
    for (const [m, p, n] of worlds) {
      const key = p.join() + '|' + n.join();
      const there = all.get(key);
      if (there) there[0] += m; else all.set(key, [m, p, n]);
    }
    return [...all.values()];
  }

  function afterRepair(worlds, repair, stillThere) {
    const out = [];
    for (const [m, p, n] of worlds) {
      for (const [p2, n2, q] of repaired(p, n, repair)) {
        if (!stillThere || n2.length) out.push([m * q, p2, n2]);
      }
    }
    return merged(out);
  }

  // ---- Numbers ----

  // The straight line between the points of a table.
  function between(xs, ys, x) {
    let at = xs.findIndex((p) => p >= x);
    if (at < 0) at = xs.length - 1;
    if (at === 0) at = 1;
    const t = Math.min(1, Math.max(0, (x - xs[at - 1]) / (xs[at] - xs[at - 1])));
    return ys[at - 1] + t * (ys[at] - ys[at - 1]);
  }

  // P(this number | level), up to a common factor.
  function numberLikelihood(number, said) {
    let kind = said.k;
    if (kind === 'exact' && number.tables.start !== null && said.x >= number.tables.start * (1 - 1e-9)) kind = 'above';
    const table = number.tables[kind];
    const ln = table.ln.map((row) => between(table.x, row, said.x));
    const top = Math.max(...ln);
    return ln.map((y) => Math.exp(y - top));
  }

  // Reads a field; an error is a text.
  function readNumber(reading, field) {
    const parse = (text) => (/^[-+]?\d+([.,]\d+)?$/.test(text) ? Number(text.replace(',', '.')) : NaN);
    const text = field.number.value.trim();
    let x = parse(text);
    if (!Number.isFinite(x)) return `${reading.name}: “${text}” is no number`;
    const [times, plus] = reading.number.units[field.unit.value];
    x = x * times + plus;
    const tables = reading.number.tables;
    if (tables.unsigned) x = Math.abs(x);
    let said = `${text.replace(',', '.')} ${field.unit.value}`;
    if (field.kind.value !== 'exact') said = (field.kind.value === 'above' ? '> ' : '< ') + said;
    if (tables.start !== null) said = `drop of ${said}`;
    if (field.under && field.under.value.trim()) {
      const u = parse(field.under.value.trim());
      const list = tables.under;
      if (!Number.isFinite(u) || u < list[0][0] || u > list[list.length - 1][0]) {
        return `${reading.name}: between ${list[0][0]} and ${list[list.length - 1][0]} it can be reckoned with`;
      }
      x *= between(list.map((p) => p[0]), list.map((p) => p[1]), u);
      said += ` at ${field.under.value.trim().replace(',', '.')} ${field.underUnit}`;
    }
    if (tables.least !== null && x < tables.least) return `${reading.name}: it cannot be below ${tables.least}`;
    if (tables.start !== null && x > tables.start * (1 + 1e-9)) {
      return `${reading.name}: that is more than the ${tables.start} ${reading.number.unit} it starts from`;
    }
    return { x, k: field.kind.value, said };
  }

  // ---- Answers: what was found at a node, and where the plan goes on ----
  // {o: i} is the plan's outcome i; {r: {reading: {l: level} or {x, k, said}}} is what the fields say; {u: 1} that it could
  // not be done or told nothing.

  function levelLikelihood(reading, said) {
    if (said.l !== undefined) return reading.levels.map((_, l) => (l === said.l ? 1 : 0));
    return numberLikelihood(reading.number, said);
  }

  // Worlds, next node (null: done; undefined: the plan has nothing there) and what was understood.
  function follow(worlds, node, answer) {
    if (node.kind === 'test') return followTest(worlds, node, answer);
    const out = node.out[answer.o];
    if (!out) return { worlds, next: undefined };
    const shows = out[0];
    if (shows === 'gone') return { worlds, next: null };
    if (node.kind === 'repair') {
      worlds = afterRepair(worlds, D.repairs[node.of], shows === 'still');
    } else {
      worlds = worlds.filter((w) => w[2].length);
    }
    return { worlds, next: out[2] };
  }

  function followTest(worlds, node, answer) {
    const ids = D.tests[node.of].readings;
    const all = (list, present) => ids.reduce((p, r, i) => p * levels(D.readings[r], present)[list[i]], 1);
    if (answer.u) return { worlds, next: undefined };
    if (answer.o !== undefined) {
      const [shows, , next] = node.out[answer.o];
      if (shows === 'else') {
        const named = node.out.map((o) => o[0]).filter(Array.isArray);
        return { worlds: weigh(worlds, (p) => Math.max(0, 1 - named.reduce((s, l) => s + all(l, p), 0))), next };
      }
      return { worlds: weigh(worlds, (p) => all(shows, p)), next };
    }
    // The likeliest level of each reading that was answered, by what was said and what was believed.
    const likely = {};
    const told = [];
    const weights = {};
    for (const r of ids) {
      const said = answer.r[r];
      if (!said) continue;
      const reading = D.readings[r];
      weights[r] = levelLikelihood(reading, said);
      const share = reading.levels.map(() => 0);
      for (const [m, p] of worlds) levels(reading, p).forEach((q, l) => { share[l] += m * q * weights[r][l]; });
      likely[r] = share.indexOf(Math.max(...share));
      if (said.said) {
        const sum = share.reduce((a, b) => a + b, 0);
        const words = share.map((s, l) => [s / sum, reading.levels[l]]).filter((s) => s[0] >= 0.005)
          .sort((a, b) => b[0] - a[0]).map(([s, name]) => `${name} ${percent(s)}`);
        told.push(`${reading.name}, ${said.said}: ${words.join(', ')}.`);
      }
    }
    const after = weigh(worlds, (p) => Object.entries(weights)
      .reduce((q, [r, w]) => q * levels(D.readings[r], p).reduce((s, x, l) => s + x * w[l], 0), 1));
    const fits = node.out.filter((o) => Array.isArray(o[0]) && ids.every((r, i) => likely[r] === undefined || o[0][i] === likely[r]));
    const mass = (o) => worlds.reduce((s, [m, p]) => s + m * all(o[0], p), 0);
    fits.sort((a, b) => mass(b) - mass(a));
    const out = fits[0] || (Object.keys(likely).length ? node.out.find((o) => o[0] === 'else') : undefined);
    if (out) told.push(`The plan goes on as for: ${out[3]}.`);
    return { worlds: after, next: out ? out[2] : undefined, told: told.join(' ') };
  }

  // ---- The record ----

  const quoted = (word) => (/^[\w:=/.%+-]+$/.test(word) ? word : `"${word.replace(/["$`\\!\u0000-\u001f]/g, '')}"`);
  const plain = (level) => level.replace(/ /g, '-');

  function results(node, answer) {
    const test = D.tests[node.of];
    if (answer.u) return [`${test.id}=unclear`];
    const one = (r, said) => `${D.readings[r].id}=${said.said || plain(D.readings[r].levels[said.l])}`;
    if (answer.o !== undefined) {
      const shows = node.out[answer.o][0];
      if (shows === 'else') return [];
      if (test.whole && shows.every((l) => l === 0)) return [`${test.id}=pass`];
      return test.readings.map((r, i) => one(r, { l: shows[i] }));
    }
    return test.readings.filter((r) => answer.r[r]).map((r) => one(r, answer.r[r]));
  }

  function record(node, answer) {
    if (node.kind === 'test') {
      const list = results(node, answer);
      if (!list.length) return [`# ${D.tests[node.of].id}: another result than those of the plan; record what it was`];
      return [`faultodds job record ${list.map(quoted).join(' ')}`];
    }
    const lines = node.kind === 'repair' ? [`faultodds job repair ${node.id}`] : [];
    const shows = node.out[answer.o] && node.out[answer.o][0];
    if (shows === 'gone') {
      lines.push('# the complaint is gone: record what showed it; --ran says that all checks have run to their end', 'faultodds job retest --ran');
    }
    if (shows === 'still') lines.push(D.again);
    return lines;
  }

  // ---- The page ----

  function percent(p) {
    const h = 100 * p;
    if (h > 99.5 && p < 1) return '>99 %';
    if (h >= 9.95) return `${h.toFixed(0)} %`;
    if (h >= 0.095) return `${h.toFixed(1)} %`;
    return p > 0 ? '<0.1 %' : '0 %';
  }

  let answers = [];

  // A caution is told in full where it comes for the first time on the way, by name afterwards, in full when asked for.
  function cautions(card, before, all) {
    let named = false;
    for (const li of card.querySelectorAll('[data-caution]')) {
      const full = all || !before.includes(li.dataset.caution);
      li.querySelector('.full').textContent = full ? $(`caution-${li.dataset.caution}`).textContent : '';
      li.querySelector('.name').classList.toggle('told', full);
      named = named || !full;
    }
    const button = card.querySelector('.in-full');
    if (button) button.hidden = !named;
    if (button) button.onclick = () => { cautions(card, before, true); card.querySelector('h2').focus(); };
  }

  // Where one is: the node (null: done, undefined: off the plan), what is believed there, and what was said on the way.
  // One entry a step, so that going back is leaving the last one out.
  let trail = [{ node: 0, worlds: start, lines: [], results: [], repairs: 0, told: '', before: [] }];

  function step(answer) {
    const at = trail[trail.length - 1];
    const node = D.nodes[at.node];
    const then = follow(at.worlds, node, answer);
    const told = [...$(`card-${node.card}`).querySelectorAll('[data-caution]')].map((li) => li.dataset.caution);
    trail.push({
      node: then.next, worlds: then.worlds, told: then.told || '', lines: at.lines.concat(record(node, answer)),
      results: node.kind === 'test' ? at.results.concat(results(node, answer)) : at.results,
      repairs: at.repairs + (node.kind === 'repair' ? 1 : 0), before: at.before.concat(told),
    });
    answers.push(answer);
  }

  function show(moved) {
    const at = trail[trail.length - 1];
    const node = D.nodes[at.node];
    document.querySelectorAll('.card.now').forEach((c) => c.classList.remove('now'));
    const ask = $('ask');
    ask.replaceChildren();
    let heading;
    if (node) {
      const card = $(`card-${node.card}`);
      card.classList.add('now');
      heading = card.querySelector('h2');
      cautions(card, at.before, false);
      const what = { test: 'test', repair: node.mend ? 'repair now, re-test later' : 'repair, then re-test', 're-test': 're-test', 'hand-on': 'the end of this way' }[node.kind];
      $('where').textContent = `${at.told} Step ${answers.length + 1}: ${what}. ${node.facts}`.trim();
      if (moved) card.querySelectorAll('input[type=text]').forEach((i) => { i.value = ''; });
      if (moved) card.querySelectorAll('input[type=radio]').forEach((i) => { i.checked = i.value === ''; });
      card.querySelectorAll('.said').forEach((s) => { s.textContent = ''; });
      choices(ask, node);
    } else {
      heading = el('h2', at.node === null ? 'Done: the complaint is gone' : 'Off the plan', { tabindex: '-1' });
      ask.append(heading);
      $('where').textContent = at.told;
      ended(ask, at);
    }
    $('ask').dataset.step = node ? node.id : at.node === null ? 'done' : 'off';
    bars(at.worlds);
    const close = node && node.kind === 'hand-on' ? ['faultodds job close --as handed-on'] : [];
    $('path').value = [D.opening].concat(at.lines, close).join('\n');
    $('back').disabled = $('again').disabled = !answers.length;
    $('jump').hidden = !node || node.kind === 'hand-on';
    $('copied').textContent = '';
    try {
      history.replaceState(null, '', answers.length ? `#${encodeURIComponent(JSON.stringify(answers))}` : location.pathname);
    } catch (e) { /* Some viewers allow no address of their own; then a reload begins anew. */ }
    if (moved) {
      $('walk').scrollIntoView();
      heading.focus({ preventScroll: true });
    }
  }

  function choices(ask, node) {
    if (node.kind === 'hand-on') return;
    ask.append(el('h2', node.kind === 'test' ? 'What did it show?' : node.mend ? 'When it is done' : 'And the complaint?'));
    const list = el('div', undefined, { class: 'choices' });
    // The likeliest first, whatever else comes last.
    const likely = node.out.map((o, i) => [o[0] === 'else', -parseFloat(o[1].replace(/[<>]/, '')), i])
      .sort((a, b) => a[0] - b[0] || a[1] - b[1] || a[2] - b[2]);
    likely.forEach(([, , i]) => {
      const [, share, , words] = node.out[i];
      const button = el('button', undefined, { type: 'button', 'data-outcome': i });
      button.append(el('span', words.charAt(0).toUpperCase() + words.slice(1)), el('span', share, { class: 'share' }));
      button.addEventListener('click', () => go({ o: i }));
      list.append(button);
    });
    if (!node.out.length) list.append(el('p', 'What can come here is too rare or too far on for this plan.'));
    const add = (words, share, answer) => {
      const button = el('button', undefined, { type: 'button', 'data-outcome': 'u' });
      button.append(el('span', words), el('span', share, { class: 'share' }));
      button.addEventListener('click', () => go(answer));
      list.append(button);
    };
    if (node.kind === 'test') {
      // A level that is too rare for the plan can be said all the same; of several readings there are fields for each.
      const ids = D.tests[node.of].readings;
      const reading = D.readings[ids[0]];
      const shown = node.out.some((o) => o[0] === 'else') ? null : node.out.map((o) => o[0][0]);
      if (ids.length === 1 && shown && !$(`card-${node.card}`).querySelector('.answer')) {
        reading.levels.forEach((level, l) => {
          if (!shown.includes(l)) add(`${reading.name}: ${level}`, 'off the plan', { r: { [ids[0]]: { l } } });
        });
      }
      add('It could not be done, or told nothing', 'off the plan', { u: 1 });
    } else if (!node.out.length) {
      add('Go on', 'off the plan', { u: 1 });
    }
    ask.append(list);
  }

  function ended(ask, at) {
    if (at.node === null) {
      ask.append(el('p', 'Record what showed it, and prove it: “faultodds job show --proof” names the re-tests and what each would prove.'));
      return;
    }
    ask.append(el('p', 'This plan does not go on from here. The bars below heed what was found. Record it with the lines below, and ask for the next step:'));
    const direct = D.next && !at.repairs;
    const words = at.results.map((r) => ` --result ${quoted(r)}`).join('');
    ask.append(el('pre', direct ? D.next + words : 'faultodds next', { class: 'wide', tabindex: '0' }));
  }

  // The likeliest suspects as bars; those that stay move.
  const rows = new Map();
  function bars(worlds) {
    const share = D.suspects.map(() => 0);
    let sum = 0;
    for (const [m, p] of worlds) {
      sum += m;
      p.forEach((s) => { share[s] += m; });
    }
    const list = $('suspects');
    const order = share.map((m, s) => [sum > 0 ? m / sum : 0, s]).filter((x) => x[0] >= 0.002)
      .sort((a, b) => b[0] - a[0] || a[1] - b[1]).slice(0, 8);
    const shown = order.map(([p, s]) => {
      let row = rows.get(s);
      if (!row) {
        row = el('li');
        const name = el('div', undefined, { class: 'name' });
        name.append(el('bdi', D.suspects[s]), el('span'));
        const track = el('div', undefined, { class: 'track', 'aria-hidden': 'true' });
        track.append(el('div', undefined, { class: 'fill' }));
        row.append(name, track);
        rows.set(s, row);
      }
      row.querySelector('.name span').textContent = percent(p);
      return [row, p];
    });
    list.replaceChildren(...shown.map((s) => s[0]));
    const first = start.reduce((s, w) => s + w[0], 0);
    $('suspects-note').textContent = answers.length
      ? `After what was found. Of the cars at the start, ${percent(sum / first)} come here by this way.`
      : 'Before the first step.';
    requestAnimationFrame(() => shown.forEach(([row, p]) => {
      row.querySelector('.fill').style.width = `${100 * p}%`;
    }));
  }

  function go(answer) {
    step(answer);
    show(true);
  }

  // What the fields of a card say.
  function fieldsOf(card) {
    const out = {};
    for (const set of card.querySelectorAll('fieldset')) {
      const r = set.dataset.reading;
      const reading = D.readings[r];
      const get = (name) => set.querySelector(`[name=${name}${r}]`);
      const number = get('n');
      if (number && number.value.trim()) {
        const under = get('a');
        const said = readNumber(reading, { number, unit: get('u'), kind: get('k'), under, underUnit: reading.number.under });
        number.toggleAttribute('aria-invalid', typeof said === 'string');
        if (typeof said === 'string') {
          number.focus();
          return said;
        }
        out[r] = said;
        continue;
      }
      const radio = set.querySelector('input[type=radio]:checked');
      if (radio && radio.value !== '') out[r] = { l: Number(radio.value) };
    }
    return Object.keys(out).length ? out : 'Nothing is answered yet: choose a level or type a number.';
  }

  $('jump').addEventListener('click', () => {
    $('ask').scrollIntoView();
    const first = $('ask').querySelector('button');
    if (first) first.focus({ preventScroll: true });
  });
  $('back').addEventListener('click', () => { answers.pop(); trail.pop(); show(true); });
  $('again').addEventListener('click', () => { answers = []; trail = trail.slice(0, 1); show(true); });
  $('copy').addEventListener('click', () => {
    const done = () => { $('copied').textContent = 'Copied.'; };
    const select = () => { $('path').select(); $('copied').textContent = 'Selected: copy it with the keys or the menu.'; };
    if (navigator.clipboard) navigator.clipboard.writeText($('path').value).then(done, select); else select();
  });
  $('show').addEventListener('click', () => {
    const closed = $('drawing').classList.toggle('closed');
    $('show').setAttribute('aria-expanded', String(!closed));
  });
  document.querySelectorAll('.card').forEach((card) => {
    const button = card.querySelector('.answer');
    if (!button) return;
    const send = () => {
      const said = fieldsOf(card);
      if (typeof said === 'string') card.querySelector('.said').textContent = said;
      else go({ r: said });
    };
    button.addEventListener('click', send);
    card.addEventListener('keydown', (e) => { if (e.key === 'Enter' && e.target.type === 'text') send(); });
  });
  // A page that was put aside and opened again goes on where it was.
  try {
    for (const answer of location.hash ? JSON.parse(decodeURIComponent(location.hash.slice(1))) : []) step(answer);
  } catch (e) {
    answers = [];
    trail = trail.slice(0, 1);
  }
  document.documentElement.classList.add('walking');
  $('drawing').classList.add('closed');
  show(false);
})();
