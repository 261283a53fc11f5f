// The page: its sections, the slider that turns the days, and what listens to keys.

const FIELDS = ['density', 'zone', 'traction', 'displacement'];
const SEEN = { front: 'front_title', side: 'side_title' };
const FILM_MS = 12000; // ms for all steps when played
const CAPTION_MS = 3000; // least time of a caption when played
const state = { step: 0, field: 'zone', playing: null, cases: [], slices: [], probes: new Map(), told: new Set() };
const quiet = window.matchMedia('(prefers-reduced-motion: reduce)');
let runs = [];
let days = [];
let views = [];

function dayOf(step) { return days[step]; }

function runTitle(run) {
  return named(run, run.summary.scenario.title);
}

// A name that tells apart what stands twice on a page of two runs.
function named(run, text) {
  return runs.length > 1 ? `${t('run')} ${'AB'[run.index]}: ${text}` : text;
}

function section(id, title, ...content) {
  return h('section', { id, 'aria-labelledby': `${id}-title` },
    h('h2', { id: `${id}-title` }, title), ...content);
}

function columns(build) {
  return h('div', { class: runs.length > 1 ? 'two' : 'one' }, runs.map((run) => h('div',
    { class: 'run-column' }, runs.length > 1 ? h('h3', {}, runTitle(run)) : null, build(run))));
}

function mark() {
  return h('p', { class: 'mark' }, t('invented'));
}

function summarySection() {
  return section('summary', t('summary'), columns((run) => {
    const index = state.cases[run.index];
    const many = run.cases.length > 1;
    return [
      runs.length > 1 && run.summary.scenario.invented ? mark() : null,
      leads(run, index),
      endTable(run),
      many ? h('p', { class: 'small' }, t('shown_case', { name: run.cases[index].name })) : null,
    ];
  }));
}

function detailSection() {
  return section('detail', t('detail'), columns((run) => {
    const index = state.cases[run.index];
    const part = (key, texts) => h('div', { class: 'answer' },
      h(runs.length > 1 ? 'h4' : 'h3', {}, t(key)), items(texts));
    return h('div', { class: 'answers' },
      part('planned', plannedSentences(run, index)),
      part('expected', expectedSentences(run, index)),
      part('sure', sureSentences(run, index)),
      part('watch', watchSentences(run)));
  }));
}

function limitItems(run) {
  return h('ul', {}, run.summary.limits.map((limit) => {
    const text = translated('limits', limit);
    return text === null ? h('li', { lang: 'en' }, limit) : h('li', {}, text);
  }));
}

function headers() {
  const head = document.getElementById('head');
  const alone = runs.length > 1 ? null : runs[0].summary.scenario;
  const title = alone?.title ?? t('compared');
  const select = choice(t('language'), 'language',
    Object.keys(STRINGS).map((name) => [name, STRINGS[name].name]), language, (event) => {
      language = event.target.value;
      build('language');
    });
  const heading = h('h1', {}, title);
  head.replaceChildren(h('a', { class: 'skip', href: '#main' }, t('skip')),
    h('p', { class: 'caution' }, t('caution')),
    ...(alone ? [heading, h('div', { class: 'top' }, alone.invented ? mark() : null, select)]
      : [h('div', { class: 'top' }, heading, select)]));
  document.getElementById('foot').replaceChildren(h('p', { class: 'caution' }, t('caution')),
    h('p', { class: 'small' }, t('made_by', { version: runs[0].program })));
  document.title = `${runs.map((run) => run.summary.scenario.title).join(' | ')} - ${t('page_title')}`;
  document.documentElement.lang = language;
}

// Build the page anew in the language and with the choices of the moment.
function build(focus = null) {
  stop();
  headers();
  const root = runs.some((run) => rootTable(run)) ? section('root', t('root'), columns(rootTable))
    : null;
  const parts = [
    summarySection(), lessonSection(), weekSection(), detailSection(), root, sheetSection(),
    figureSection(),
    section('inputs', t('inputs'), h('p', { class: 'small' }, t('inputs_note')), columns((run) => h('details', {},
      h('summary', {}, t('inputs_show', { count: run.inputs.length })), inputTable(run)))),
    section('limits', t('limits_title'), columns(limitItems)),
    h('section', { id: 'printed', class: 'only-print', 'aria-hidden': 'true' },
      h('h2', {}, t('printed')), sheetTables()),
    h('p', { id: 'live', class: 'hidden', 'aria-live': 'polite' }, ''),
  ];
  document.getElementById('main').replaceChildren(...parts.filter((part) => part !== null));
  for (const entry of views) entry.view = entry.make(entry.canvas);
  placeTicks();
  show(state.step);
  drawSheet();
  if (focus) document.getElementById(focus)?.focus();
}

// What happens on the days that are marked on the slider.
function marked() {
  const found = new Map();
  runs.forEach((run) => keysOf(run, state.cases[run.index]).forEach((key) => {
    if (!found.has(key.day)) found.set(key.day, []);
    found.get(key.day).push(named(run, keyWords(run, key)));
  }));
  return found;
}

function placeTicks() {
  const ticks = [...marked()].map(([day, texts]) => {
    const mark = h('span', { class: 'tick', title: `${t('week')} ${week(day)}: ${texts.join('; ')}` });
    mark.style.left = `${(100 * lastBefore(days, day)) / Math.max(1, days.length - 1)}%`;
    return mark;
  });
  document.getElementById('ticks').replaceChildren(...ticks);
}

function show(step) {
  state.step = step;
  const slider = document.getElementById('day');
  if (Number(slider.value) !== step) slider.value = step;
  const text = t('now', { week: week(dayOf(step)), day: short(dayOf(step)) });
  slider.setAttribute('aria-valuetext', [text, ...marked().get(dayOf(step)) ?? []].join('; '));
  document.getElementById('now').textContent = text;
  refresh();
}

function refresh() {
  document.getElementById('legend').replaceChildren(...legend());
  for (const entry of views) redraw(entry);
  fillTables();
  showCaptions();
  if (state.playing === null) announce();
}

function redraw(entry) {
  const field = entry.view.fields.includes(state.field) ? state.field : 'zone';
  entry.view.draw(dayOf(state.step), field, state.probes.get(entry.id) ?? null);
  const place = state.probes.get(entry.id) ?? null;
  const found = place ? entry.view.probe(dayOf(state.step), field, place) : null;
  // which cell, node or point that is, as the field files count them
  entry.canvas.dataset.under = found ? (found.cell ?? [found.node]).join(',') : '';
  entry.canvas.dataset.tooth = found?.tooth ?? '';
  entry.read.textContent = probeWords(found, entry.view.slice ? entry.view.slice.sides : []);
}

function fillTables() {
  for (const run of runs) {
    const step = lastBefore(run.days, dayOf(state.step));
    document.getElementById(`week-table-${run.index}`)
      .replaceChildren(weekTable(run, state.cases[run.index], step));
    const slice = run.cases[state.cases[run.index]].slices[state.slices[run.index]];
    if (slice) {
      document.getElementById(`slice-table-${run.index}`)
        .replaceChildren(sliceTable(run, slice, dayOf(state.step)));
      const details = document.getElementById(`wall-${run.index}`);
      if (details.open) details.lastChild.replaceChildren(wallTable(run, slice, dayOf(state.step)));
    }
  }
}

let announced = 0;
function announce() {
  clearTimeout(announced);
  announced = setTimeout(() => {
    const live = document.getElementById('live');
    const texts = runs.map((run) => {
      const step = lastBefore(run.days, dayOf(state.step));
      return run.cases[state.cases[run.index]].teeth.map((tooth) => t('live_tooth', {
        tooth: tooth.number, moved: num(tooth.crown_band_mm.at(step, 1)),
        force: num(tooth.force_N.at(step)),
      })).join(' ');
    });
    live.textContent = `${t('week')} ${week(dayOf(state.step))}. ${texts.join(' ')}`;
  }, 350);
}

function jump(day) {
  stop();
  show(lastBefore(days, day));
}

function probeAt(entry, place, spoken) {
  if (place) state.probes.set(entry.id, place); else state.probes.delete(entry.id);
  redraw(entry);
  if (spoken) document.getElementById('live').textContent = entry.read.textContent;
}

function probeKey(entry, event) {
  const steps = { ArrowLeft: [-6, 0], ArrowRight: [6, 0], ArrowUp: [0, -6], ArrowDown: [0, 6] };
  if (event.key === 'Escape') { probeAt(entry, null, true); return; }
  if (!(event.key in steps)) return;
  event.preventDefault();
  const { sheet } = entry.view;
  const from = state.probes.get(entry.id) ?? [sheet.width / 2, sheet.height / 2];
  const to = from.map((value, k) => value + steps[event.key][k]);
  probeAt(entry, [Math.max(0, Math.min(sheet.width, to[0])),
    Math.max(0, Math.min(sheet.height, to[1]))], true);
}

function togglePlay() {
  if (state.playing !== null) { stop(); announce(); return; }
  if (quiet.matches) return;
  if (state.step === days.length - 1) show(0);
  const pauses = playPauses();
  const next = () => {
    if (state.step >= days.length - 1) { stop(); announce(); return; }
    show(state.step + 1);
    state.playing = setTimeout(next, pauses[state.step]);
  };
  state.playing = setTimeout(next, pauses[state.step]);
  document.getElementById('play').textContent = t('pause');
}

// Time for each step when played, ms: longer where captions would follow each other too fast.
function playPauses() {
  const pause = Math.max(60, Math.min(400, FILM_MS / days.length));
  const found = days.map(() => pause);
  for (const run of runs) {
    const starts = captionsOf(run, state.cases[run.index]).map(([day]) => lastBefore(days, day));
    starts.slice(1).forEach((end, k) => {
      for (let step = starts[k]; step < end; step += 1) {
        found[step] = Math.max(found[step], CAPTION_MS / (end - starts[k]));
      }
    });
  }
  return found;
}

function stop() {
  if (state.playing !== null) clearTimeout(state.playing);
  state.playing = null;
  const button = document.getElementById('play');
  if (button) button.textContent = t('play');
}

document.addEventListener('keydown', (event) => {
  const free = ['BODY', 'CANVAS', 'MAIN'].includes(event.target.tagName)
    || event.target.id === 'day';
  if (event.key === ' ' && free) {
    event.preventDefault();
    togglePlay();
  }
});
window.addEventListener('resize', () => views.forEach(redraw));
quiet.addEventListener('change', () => build());
window.addEventListener('beforeprint', () => {
  stop();
  document.querySelectorAll('details').forEach((part) => { part.open = true; });
  fillTables();
});

// Two runs are drawn on the same scales: of each the larger.
function shareScales() {
  const own = runs.map((run) => run.scales);
  const common = Object.fromEntries(Object.keys(own[0]).map(
    (name) => [name, Math.max(...own.map((scale) => scale[name]))]));
  runs.forEach((run) => Object.assign(run, { own: run.scales, scales: common }));
}

async function start() {
  const blocks = [...document.querySelectorAll('script.run')];
  runs = await Promise.all(blocks.map(readRun));
  shareScales();
  days = [...new Set(runs.flatMap((run) => run.days))].sort((a, b) => a - b);
  state.cases = runs.map(() => 0);
  state.slices = runs.map(() => 0);
  build();
  document.documentElement.dataset.ready = String(Math.round(performance.now()));
}

if (typeof DecompressionStream === 'function') start();
