// Opens every page that faultodds writes in a real browser and checks what only a browser can tell: no error in the
// console, no request that leaves the file, the walk through a plan against `plan --json`, contrast and labels by
// axe-core in light and dark, sheets of A4 as stated, hostile words, size and time. Started by `run`; exit code 1 when
// something does not hold. With PICTURES=FOLDER it leaves a picture of every page at 360 px, 1280 px and A4 there;
// ONLY=WORDS looks at the pages whose name has these words.
import axe from 'axe-core';
import { execFileSync, spawnSync } from 'node:child_process';
import fs from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { chromium } from 'playwright-core';

const [program, browserPath] = process.argv.slice(2);
const home = fs.mkdtempSync(path.join(os.tmpdir(), 'faultodds-pages-'));
const env = { ...process.env, HOME: home, XDG_DATA_HOME: home, XDG_CONFIG_HOME: home, FAULTODDS_DB: path.join(home, 'jobs.db'), FAULTODDS_PAST: path.join(home, 'past.db') };
for (const name of ['FAULTODDS_KB', 'FAULTODDS_OVERLAY', 'FAULTODDS_SHOP', 'FAULTODDS_JOB']) delete env[name];
const pictures = process.env.PICTURES;

let failures = 0;
let checks = 0;
function holds(what, truth, more = '') {
  checks += 1;
  if (!truth) {
    failures += 1;
    console.error(`FAILED: ${what} ${more}`);
  }
}

const odds = (...args) => execFileSync(program, args, { env, encoding: 'utf8', maxBuffer: 64 << 20, stdio: ['ignore', 'pipe', 'pipe'] });
// `next` and `score` may end with 1, which is an answer.
const asked = (...args) => spawnSync(program, args, { env, encoding: 'utf8', maxBuffer: 64 << 20 });

const NASTY = '</script><script>window.hacked=1</script><img src=x onerror="window.hacked=1">\u202eevil\u200f';
const LONG = 'w'.repeat(10000);

// ---- The pages ----

function plan(name, ...args) {
  const file = path.join(home, `${name}.html`);
  const text = odds('plan', ...args, '--form', 'html');
  fs.writeFileSync(file, text);
  // The page says itself how far it goes, so that the plan is compared as it is carried.
  const { depth, least } = JSON.parse(text.split('id="data">')[1].split('</script>')[0]).cut;
  const json = JSON.parse(odds('plan', ...args, '--json', '--depth', String(depth), '--least', String(least)));
  return { name, file, kind: 'plan', json };
}

function job() {
  odds('job', 'open', 'P0455', '--vehicle', 'age=9,screw-cap', '--reference', `bay 3 ${NASTY} ${LONG}`, '--make', NASTY);
  odds('job', 'record', 'cap-look-reseat=pass', '--minutes', '4');
  odds('job', 'record', 'smoke-tank-side:filler=fail', '--minutes', '30');
  odds('job', 'note', `${NASTY} ${LONG}`, '--on', 'smoke-tank-side:filler');

  odds('job', 'repair', 'filler-neck/replace', '--note', NASTY, '--minutes', '70', '--cost', '120');
  odds('job', 'retest', '--ran');
  odds('job', 'close', '--cause', 'filler-neck/rusted-through', '--how', `${NASTY} ${LONG}`);
}

const only = (name) => name.includes(process.env.ONLY || '');

function pages() {
  const list = [];
  const plans = [['plan-P0455', 'P0455'], ['plan-P0443', 'P0443', '--vehicle', 'age=7'], ['plan-two', 'P0441', 'P0420', '--without', 'smoke-machine']];
  for (const [name, ...args] of plans) if (only(name)) list.push(plan(name, ...args));
  const write = (name, kind, ...args) => {
    if (!only(name)) return;
    const file = path.join(home, `${name}.${kind === 'drawing' ? 'svg' : 'html'}`);
    fs.writeFileSync(file, odds(...args));
    list.push({ name, file, kind });
  };
  if (only('report') || only('report-workshop')) job();
  write('plan-hostile', 'plan-hostile', 'plan', 'P0443', '--form', 'html', '--make', `${NASTY} ${LONG}`);
  write('report', 'report', 'report');
  write('report-workshop', 'record', 'report', '--workshop', '--rate', '90');
  if (only('year')) {
    const demo = path.resolve(import.meta.dirname, '../../data-demo');
    const some = path.join(home, 'past.csv');
    fs.writeFileSync(some, fs.readFileSync(path.join(demo, 'past.csv'), 'latin1').split('\n').slice(0, 180).join('\n'), 'latin1');
    odds('past', 'import', some, '--mapping', path.join(demo, 'past-mapping.yaml'));
  }
  write('year', 'shop', 'past', 'report', '--tool', 'smoke-machine');
  write('drawing-plan', 'drawing', 'plan', 'P0455', '--form', 'svg');
  write('drawing-rank', 'drawing', 'rank', 'P0455', 'P0441', '--form', 'svg');
  return list;
}

// ---- What holds of every page ----

async function opened(browser, page, look) {
  const context = await browser.newContext({ viewport: { width: look.width, height: 800 }, colorScheme: look.scheme });
  const tab = await context.newPage();
  const told = [];
  tab.on('console', (m) => { if (['error', 'warning'].includes(m.type())) told.push(m.text()); });
  tab.on('pageerror', (e) => told.push(e.message));
  tab.on('dialog', (d) => { told.push('a dialog'); d.dismiss(); });
  tab.on('request', (r) => { if (!r.url().startsWith('data:') && r.url().split('#')[0] !== `file://${page.file}`) told.push(`asks for ${r.url()}`); });
  await tab.goto(`file://${page.file}`);
  return { tab, told, context };
}

async function accessible(tab, what) {
  await tab.evaluate(axe.source);
  const found = await tab.evaluate(() => window.axe.run(document, { resultTypes: ['violations'] }));
  const words = found.violations.map((v) => `${v.id}: ${v.help} (${v.nodes.slice(0, 3).map((n) => n.target).join(', ')})`);
  holds(`${what} passes axe-core`, !words.length, words.join('\n  '));
}

// What is pressed is as big as a thumb (44 px), and a name in a table is not broken letter by letter.
async function byThumb(tab, what) {
  const small = await tab.evaluate(() => [...document.querySelectorAll('button, select, summary, label, input[type=text]')]
    .filter((e) => e.offsetParent && e.getBoundingClientRect().height < 43.5)
    .map((e) => `${e.tagName} ${e.textContent.slice(0, 20)} ${e.getBoundingClientRect().height}`));
  holds(`${what}: what is pressed is 44 px high`, !small.length, small.slice(0, 3).join('; '));
  const narrow = await tab.evaluate(() => [...document.querySelectorAll('tbody th')]
    .filter((e) => e.offsetParent && e.getBoundingClientRect().width < 60 && e.textContent.length > 8).map((e) => e.textContent));
  holds(`${what}: names in tables have room`, !narrow.length, narrow.slice(0, 3).join('; '));
  const sideways = await tab.evaluate(() => [...document.querySelectorAll('.wide')].filter((e) => e.scrollWidth > e.clientWidth + 1 && e.clientWidth > 9).length);
  holds(`${what}: no table is moved sideways`, !sideways);
}

const sheets = (pdf) => (pdf.toString('latin1').match(/\/Type\s*\/Page[^s]/g) || []).length;

async function common(browser, page) {
  for (const [scheme, width] of [['light', 360], ['dark', 1280]]) {
    const { tab, told, context } = await opened(browser, page, { scheme, width });
    const what = `${page.name}, ${scheme}, ${width} px`;
    if (page.kind !== 'drawing') {
      holds(`${what}: no words reached out of their place`, await tab.evaluate(() => window.hacked === undefined));
      // Of a plan the second step is looked at too, with cautions told before.
      if (page.kind === 'plan' && scheme === 'dark') await tab.click('#ask button[data-outcome="0"]');
      if (width === 360) await byThumb(tab, what);
      const wide = await tab.evaluate(() => document.documentElement.scrollWidth);
      holds(`${what}: nothing over the edge`, wide <= width, `${wide} px`);
      await accessible(tab, what);
    }
    holds(`${what}: nothing in the console and no request`, !told.length, told.join('; '));
    if (pictures) await tab.screenshot({ path: path.join(pictures, `${page.name}-${width}.png`), fullPage: page.kind !== 'drawing', timeout: 120000 });
    await context.close();
  }
  holds(`${page.name} is under 400 kB`, fs.statSync(page.file).size < 400 * 1024, `${fs.statSync(page.file).size} bytes`);
}

// The fastest of five: the time is the page's, and not that of whatever else the machine does.
async function quick(browser, page) {
  let best = Infinity;
  for (let i = 0; i < 5; i += 1) {
    const { tab, context } = await opened(browser, page, { scheme: 'light', width: 360 });
    best = Math.min(best, await tab.evaluate(() => performance.getEntriesByType('navigation')[0].loadEventEnd));
    await context.close();
  }
  holds(`${page.name} opens in under half a second`, best > 0 && best < 500, `${best} ms`);
  return best;
}

async function printed(browser, page, stated) {
  const { tab, context } = await opened(browser, page, { scheme: 'dark', width: 1280 });
  const pdf = await tab.pdf({ preferCSSPageSize: true });
  const n = sheets(pdf);
  // Of a plan it is told about how many: the browser parts them, and never a step that a sheet has room for.
  const about = stated === undefined;
  const want = about ? Number(await tab.textContent('#sheets')) : stated;
  holds(`${page.name} prints on ${about ? 'about ' : ''}${want} sheets`, about ? Math.abs(n - want) <= Math.max(2, 0.15 * want) : n === want, `but on ${n}`);
  if (pictures) fs.writeFileSync(path.join(pictures, `${page.name}.pdf`), pdf);
  await context.close();
}

// ---- The walk ----

// Every way through the plan as `plan --json` has it: the outcomes from the start, and the steps that they come to.
function ways(node, taken, out) {
  if (!node) {
    out.push({ taken, end: 'done' });
    return out;
  }
  out.push({ taken, end: node.id });
  node.outcomes.forEach((o) => ways(o.then, [...taken, o], out));
  return out;
}

async function walked(browser, page) {
  const { tab, told, context } = await opened(browser, page, { scheme: 'light', width: 360 });
  const all = ways(page.json.plan, [], []);
  const wrong = await tab.evaluate((plan) => {
    const step = () => document.getElementById('ask').dataset.step;
    const wrong = [];
    const walk = (node, way) => {
      const want = node ? node.id : 'done';
      if (step() !== want) wrong.push(`${way}: ${step()} and not ${want}`);
      for (const outcome of node ? node.outcomes : []) {
        const words = outcome.shows.charAt(0).toUpperCase() + outcome.shows.slice(1);
        const button = [...document.querySelectorAll('#ask button')].find((b) => b.firstChild.textContent === words);
        if (button) {
          button.click();
          walk(outcome.then, `${way} > ${outcome.shows}`);
          document.getElementById('back').click();
        } else {
          wrong.push(`${way}: no button says ${words}`);
        }
      }
    };
    walk(plan, '');
    return wrong;
  }, page.json.plan);
  const endings = all.filter((w) => w.end === 'done' || w.end === 'hand-on').length;
  holds(`${page.name}: ${all.length} ways, ${endings} of them to an ending, come to the steps of plan --json`, !wrong.length && endings > 5, wrong.slice(0, 5).join('; '));
  // The same by the fields for each reading.
  const byFields = all.filter((w) => w.taken.length === 1 && w.taken[0].levels && Object.keys(w.taken[0].levels).length > 1);
  const off = await tab.evaluate((list) => {
    const data = JSON.parse(document.getElementById('data').textContent);
    const wrong = [];
    for (const { taken, end } of list) {
      document.getElementById('again').click();
      const card = document.querySelector('.card.now');
      for (const set of card.querySelectorAll('fieldset')) {
        const level = taken[0].levels[data.readings[set.dataset.reading].id];
        set.querySelector(`input[value="${level}"]`).click();
      }
      card.querySelector('.answer').click();
      const step = document.getElementById('ask').dataset.step;
      if (step !== end) wrong.push(`${taken[0].shows}: ${step} and not ${end}`);
    }
    return wrong;
  }, byFields);
  holds(`${page.name}: ${byFields.length} outcomes said reading by reading come to the same`, !off.length, off.join('; '));
  holds(`${page.name}: the walk leaves nothing in the console`, !told.length, told.join('; '));
  await context.close();
}

// The bars after an outcome are the odds of `rank` with the same result; percentages as printed, to one in fifty.
async function barsAgree(browser, page) {
  const { tab, context } = await opened(browser, page, { scheme: 'light', width: 360 });
  const ranked = (...more) => JSON.parse(odds('rank', 'P0455', ...more, '--json')).suspects;
  const shown = () => tab.evaluate(() => [...document.querySelectorAll('#suspects li')].map((l) => parseFloat(l.querySelector('.name span').textContent)));
  const near = (bars, rank) => bars.slice(0, 4).every((p, i) => Math.abs(p / 100 - rank[i].probability) < 0.02);
  const say = (list) => list.slice(0, 4).join(' ');
  let bars = await shown();
  let rank = ranked();
  holds('the bars at the start are the odds of rank', near(bars, rank), `${say(bars)} against ${say(rank.map((r) => (100 * r.probability).toFixed(1)))}`);
  await tab.click('#ask button:has-text("All normal")');
  bars = await shown();
  rank = ranked('--result', 'cap-look-reseat=pass');
  holds('the bars after a step are the odds of rank', near(bars, rank), `${say(bars)} against ${say(rank.map((r) => (100 * r.probability).toFixed(1)))}`);
  await context.close();
}

// A number typed into a field: understood, told back, and taken by the program as the record has it.
async function numbers(browser, page) {
  const { tab, told, context } = await opened(browser, page, { scheme: 'light', width: 360 });
  const found = await tab.evaluate(() => {
    // The first way on which a card asks for a number.
    const data = JSON.parse(document.getElementById('data').textContent);
    const asks = (n) => n.kind === 'test' && data.tests[n.of].readings.some((r) => data.readings[r].number);
    const search = (at, way) => {
      const node = data.nodes[at];
      if (asks(node)) return way;
      for (let i = 0; i < node.out.length; i += 1) {
        const next = node.out[i][2];
        const there = next === null ? null : search(next, [...way, i]);
        if (there) return there;
      }
      return null;
    };
    const way = search(0, []);
    if (!way) return null;
    for (const i of way) document.querySelector(`#ask button[data-outcome="${i}"]`).click();
    const card = document.querySelector('.card.now');
    const input = card.querySelector('.number input');
    const send = (text) => {
      card.querySelector('.number input').value = text;
      card.querySelector('.answer').click();
    };
    send('twelve');
    const refused = card.querySelector('.said').textContent;
    const set = input.closest('fieldset');
    const reading = data.readings[set.dataset.reading];
    const xs = reading.number.tables.exact.x;
    send(String(xs[Math.floor(xs.length / 2)]));
    return { refused, told: document.getElementById('where').textContent, path: document.getElementById('path').value, id: reading.id };
  });
  if (found) {
    holds(`${page.name}: what is no number is refused`, found.refused.includes('no number'), found.refused);
    holds(`${page.name}: a number is told back`, found.told.includes('%'), found.told);
    holds(`${page.name}: a number stands in the record`, found.path.includes(found.id), found.path);
    recorded(page.name, found.path);
  }
  holds(`${page.name}: numbers leave nothing in the console`, !told.length, told.join('; '));
  await context.close();
  return found;
}

// The lines of a way, given to a shell as they stand.
function recorded(name, lines) {
  const bin = fs.mkdtempSync(path.join(home, 'bin-'));
  fs.symlinkSync(path.resolve(program), path.join(bin, 'faultodds'));
  const own = { ...env, PATH: `${bin}:${process.env.PATH}`, FAULTODDS_DB: path.join(bin, 'jobs.db') };
  const ran = spawnSync('sh', ['-e', '-c', lines], { env: own, encoding: 'utf8' });
  holds(`${name}: the record is taken by the program`, ran.status === 0, `${lines}\n${ran.stderr}`);
}

async function records(browser, page) {
  const { tab, context } = await opened(browser, page, { scheme: 'light', width: 360 });
  const all = ways(page.json.plan, [], []).filter((w) => ['done', 'hand-on'].includes(w.end));
  all.sort((a, b) => b.taken.length - a.taken.length);
  for (const way of [all[0], all[Math.floor(all.length / 2)], all[all.length - 1]]) {
    const lines = await tab.evaluate((taken) => {
      document.getElementById('again').click();
      for (const o of taken) {
        const words = o.shows.charAt(0).toUpperCase() + o.shows.slice(1);
        [...document.querySelectorAll('#ask button')].find((b) => b.firstChild.textContent === words).click();
      }
      return document.getElementById('path').value;
    }, way.taken);
    recorded(page.name, lines);
  }
  await context.close();
}

// By keyboard alone: to the first outcome, on, and back; the heading of the step has the focus.
async function byKeyboard(browser, page) {
  const { tab, context } = await opened(browser, page, { scheme: 'light', width: 360 });
  const first = await tab.getAttribute('#ask', 'data-step');
  for (let i = 0; i < 60; i += 1) {
    await tab.keyboard.press('Tab');
    if (await tab.evaluate(() => document.activeElement.dataset.outcome === '0')) break;
  }
  await tab.keyboard.press('Enter');
  const second = await tab.getAttribute('#ask', 'data-step');
  const focus = await tab.evaluate(() => document.activeElement.tagName);
  holds(`${page.name}: goes on by keyboard`, first !== second && focus === 'H2', `${first} ${second} ${focus}`);
  await tab.reload();
  holds(`${page.name}: a reload keeps the way`, (await tab.getAttribute('#ask', 'data-step')) === second);
  await tab.click('#back');
  holds(`${page.name}: goes back`, (await tab.getAttribute('#ask', 'data-step')) === first);
  await context.close();
}

// Words inside their boxes and on their sheet, as the browser itself sets them.
async function drawn(browser, page) {
  const { tab, context } = await opened(browser, page, { scheme: 'light', width: 1280 });
  const wrong = await tab.evaluate(() => {
    const wrong = [];
    const sheets = [...document.querySelectorAll('svg')].filter((s) => !s.querySelector('svg'));
    for (const sheet of sheets) {
      const edge = sheet.getBoundingClientRect();
      const boxes = [...sheet.querySelectorAll('rect.box')].map((r) => r.getBoundingClientRect());
      const texts = [...sheet.querySelectorAll('text')].map((t) => [t.textContent, t.getBoundingClientRect()]);
      texts.forEach(([words, t], i) => {
        if (t.left < edge.left - 1 || t.right > edge.right + 1 || t.bottom > edge.bottom + 1) wrong.push(`over the edge: ${words}`);
        for (const b of boxes) {
          const inside = t.left >= b.left && t.right <= b.right && t.top >= b.top - 1 && t.bottom <= b.bottom + 1;
          const outside = t.right <= b.left || t.left >= b.right || t.bottom <= b.top + 1.5 || t.top >= b.bottom - 1.5;
          if (!inside && !outside) wrong.push(`across the edge of a box: ${words}`);
        }
        for (const [others, u] of texts.slice(i + 1)) {
          if (t.left < u.right && u.left < t.right && t.top + 3 < u.bottom && u.top + 3 < t.bottom) wrong.push(`${words} over ${others}`);
        }
      });
    }
    return wrong;
  });
  holds(`${page.name}: all words are in their place`, !wrong.length, wrong.slice(0, 5).join('; '));
  await context.close();
}

// The policy of the page, not only the escaping: a script put in by hand must not run.
async function policed(browser, page) {
  const { tab, context } = await opened(browser, page, { scheme: 'light', width: 360 });
  const ran = await tab.evaluate(() => {
    const s = document.createElement('script');
    s.textContent = 'window.hacked = 1';
    document.body.append(s);
    return window.hacked;
  });
  holds(`${page.name}: a script from elsewhere does not run`, ran === undefined);
  await context.close();
}

const FLAGS = ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'];
const began = Date.now();
const list = pages();
const made = Date.now();
const browser = await chromium.launch({ executablePath: browserPath, args: FLAGS });
try {
  for (const page of list) {
    await common(browser, page);
    if (page.kind === 'drawing') await drawn(browser, page);
    if (page.kind !== 'drawing') await policed(browser, page);
    if (page.kind.startsWith('plan')) await printed(browser, page);
    if (page.kind === 'report') await printed(browser, page, 1);
    if (page.name === 'drawing-plan') {
      const high = Number(fs.readFileSync(page.file, 'utf8').match(/ height="(\d+)"/)[1]);
      await printed(browser, page, high / 1123);
    }
    if (page.kind === 'plan') {
      await walked(browser, page);
      await numbers(browser, page);
      if (page.name === 'plan-P0455') {
        await records(browser, page);
        await byKeyboard(browser, page);
      }
    }
  }
  const p0455 = list.find((p) => p.name === 'plan-P0455');
  if (p0455) {
    const time = await quick(browser, p0455);
    await barsAgree(browser, p0455);
    console.log(`the plan page for P0455: ${fs.statSync(p0455.file).size} bytes, opens in ${time.toFixed(0)} ms`);
  }
  console.log(`${list.length} pages, ${checks} checks, ${failures} failed`);
  console.log(`pages written in ${((made - began) / 1000).toFixed(1)} s, looked at in ${((Date.now() - made) / 1000).toFixed(1)} s`);
} finally {
  await browser.close();
  if (!process.env.KEEP) fs.rmSync(home, { recursive: true, force: true });
  else console.log(home);
}
process.exit(failures ? 1 : 0);
