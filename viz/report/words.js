// Words and numbers of the page in the language chosen; sentences about a run.

const STRINGS = JSON.parse(document.getElementById('strings').textContent);
const GRAM_FORCE = 0.00980665; // N, ISO 80000-4
const MOST_PLACES = 4; // of a remark that are told one by one
const FAR = 50; // mm: a centre of rotation beyond says hardly more than that there is none near
const MINOR = 0.3; // share of the largest part below which a direction is not named
let language = document.documentElement.lang;

function filled(text, values) {
  return text.replace(/\{(\w+)\}/g, (all, name) => (name in values ? String(values[name]) : all));
}

function t(key, values = {}) {
  return filled(STRINGS[language][key] ?? STRINGS.en[key] ?? key, values);
}

// A word or sentence of the program as the page says it in the language chosen, or null where it
// has none.
function translated(table, text) {
  return STRINGS[language][table]?.[text] ?? (language === 'en' ? text : null);
}

function word(text) {
  return translated('words', text) ?? text;
}

function num(value, digits = 2) {
  if (value === null || value === undefined || !Number.isFinite(value)) return t('none');
  const text = Math.abs(value).toFixed(digits);
  const sign = value < 0 && Number(text) !== 0 ? '\u2212' : '';
  return sign + (language === 'de' ? text.replace('.', ',') : text);
}

function short(value) {
  if (typeof value !== 'number') return value === null || value === undefined ? t('none') : value;
  return num(value, Number.isInteger(value) ? 0 : Math.abs(value) < 1 ? 3 : 2);
}

function week(day) {
  return num(day / 7, Math.abs(day / 7 - Math.round(day / 7)) < 1e-6 ? 0 : 1);
}

function force(newton) {
  return `${num(newton)} N (${num(newton / GRAM_FORCE, 0)} gf)`;
}

function listed(texts) {
  if (texts.length < 2) return texts.join('');
  return `${texts.slice(0, -1).join(', ')} ${t('and')} ${texts[texts.length - 1]}`;
}

// Which of three parts are named, the larger first; none where there is hardly any.
function major(parts) {
  const largest = Math.max(...parts.map(Math.abs));
  if (largest < 0.005) return [];
  return [0, 1, 2].filter((k) => Math.abs(parts[k]) > MINOR * largest)
    .sort((a, b) => Math.abs(parts[b]) - Math.abs(parts[a]));
}

// Directions of a movement or force (extrusion, labial, mesial) in words of the trade.
function directionNames(parts, sides) {
  const names = [['extrusion', 'intrusion'], sides, ['mesial', 'distal']];
  return major(parts).map((k) => word(names[k][parts[k] > 0 ? 0 : 1]));
}

function directions(parts, sides) {
  const which = major(parts);
  const names = directionNames(parts, sides);
  return listed(which.map((k, at) => `${names[at]} ${num(Math.abs(parts[k]))} mm`)) || t('still');
}

function movementWords(kind, tooth) {
  const name = kind.split(' with ').map(word).join(t('with'));
  return kind === 'none' || tooth.measured_on_incisors ? name : `${name} (${t('extrapolated')})`;
}

function caseSummary(run, index) {
  const all = run.summary.cases;
  return all ? all[run.cases[index].name].teeth : run.summary.teeth;
}

function keyWords(run, key) {
  if (key.kind === 'wire') return t('key_wire', { n: key.wire + 1, wire: wireWords(run, key.wire) });
  if (key.kind === 'visit') return t('key_visit', { words: listed(visitWords(key)) });
  if (key.kind === 'plate_opens') {
    return t('key_plate_opens', { tooth: key.tooth, side: word(key.side) });
  }
  if (key.kind === 'aligned') return t('key_aligned', { limit: num(key.threshold, 1) });
  if (key.kind === 'force_faded') {
    return t('key_force_faded', { limit: num(100 * key.threshold, 0) });
  }
  return listed(['lost', 'taken_off', 'put_on'].flatMap((done) => key[done].map(
    (k) => t(`key_${done}`, { pull: pullName(run.summary.scenario.elastic[k]) }))));
}

// What is done at a visit; older records do not say on which teeth brackets are bonded anew.
function visitWords(key) {
  const teeth = [...new Set(key.rebonded ?? [])].join(', ');
  return key.words.map((done) => (done === 're-bonded' && teeth
    ? t('key_rebonded', { teeth }) : word(done)));
}

function pullName({ kind, teeth }) {
  return `${word(kind)} ${teeth.join('\u2013')}`;
}

// A band of slow to fast persons; one of no width is said, in a table in short.
function bandText(ends, digits = 2) {
  const distinct = new Set(ends.map((value) => num(value, digits)));
  return distinct.size === 1 ? t('band_same_short') : range(ends, digits);
}

// Place of a centre of rotation along the axis; a movement that is nearly bodily has none.
function centreText(value, digits = 1) {
  return value !== null && Math.abs(value) > FAR ? t('far') : num(value, digits);
}

function wireWords(run, index) {
  const [text, ...alloy] = run.wires[index].split(' in ');
  return alloy.length ? `${text} in ${word(alloy.join(' in '))}` : run.wires[index];
}

// Keys of a case: those planned, and those that it reached.
function keysOf(run, index) {
  const name = run.cases[index].name;
  return run.keys.filter((key) => key.case === '' || key.case === name);
}

function plannedSentences(run, index) {
  const { scenario } = run.summary;
  const found = [];
  for (const key of run.keys.filter((k) => ['wire', 'visit'].includes(k.kind))) {
    found.push(t('planned_at', { week: week(key.day), what: keyWords(run, key) }));
  }
  for (const pull of run.summary.elastics ?? []) {
    found.push(t('planned_elastic', {
      kind: word(pull.kind),
      teeth: pull.teeth.join('\u2013'),
      from: week(7 * pull.from_week),
      to: week(7 * pull.to_week),
      force: listed(pull.links.map((link) => force(link.force_start_N))),
    }));
  }
  if (scenario.force?.length) {
    found.push(t('planned_forces'));
    if (run.cases.length > 1) {
      found.push(t('planned_cases', { cases: run.cases.map((one) => one.name).join(', ') }));
    }
  }
  if (scenario.note) found.push(t('planned_note', { note: scenario.note.trim().replace(/\s+/g, ' ') }));
  return found;
}

function expectedSentences(run, index) {
  const found = keysOf(run, index).filter((k) => k.case !== '')
    .map((key) => t('planned_at', { week: week(key.day), what: keyWords(run, key) }));
  const line = run.cases[index].out_of_line;
  if (line) {
    found.push(t('expected_line', {
      start: num(line.start_mm), end: num(line.end_mm), limit: num(line.threshold_mm, 1),
    }));
  }
  return [...found, t('expected_table')];
}

function sureSentences(run, index) {
  const found = [t('sure_band'), t('sure_tipping')];
  if (run.cases[index].teeth.some((tooth) => !tooth.measured_on_incisors)) {
    found.push(t('sure_kind'));
  }
  if (run.summary.weeks > 12) found.push(t('sure_long'));
  found.push(t('sure_limits', { count: run.summary.limits.length }));
  return found;
}

// Every remark on any case: each kind once, with all the places where it holds.
function watchSentences(run) {
  const several = run.cases.length > 1;
  const flags = new Map();
  const found = [];
  run.cases.forEach((one, index) => {
    for (const [number, of] of Object.entries(caseSummary(run, index))) {
      const name = t('tooth', { tooth: number });
      const tooth = several ? `${name} (${one.name})` : name;
      for (const flag of of.flags) {
        const key = JSON.stringify([flag.what, flag.threshold, flag.unit, flag.source]);
        if (!flags.has(key)) flags.set(key, { flag, where: [] });
        flags.get(key).where.push({ tooth, value: flag.value });
      }
      found.push(...sliceRemarks(tooth, of.slice));
    }
  });
  const all = [...[...flags.values()].map(flagRemark), ...found];
  return all.length ? all : [t('watch_nothing')];
}

// Many places are told by their number and range; all of them unfold.
function flagRemark({ flag, where }) {
  const told = where.map(({ tooth, value }) => `${tooth} ${num(value, 1)} ${flag.unit}`);
  const values = where.map(({ value }) => value);
  const few = where.length <= MOST_PLACES;
  const sentence = t('watch_flag', {
    what: capital(translated('flags', flag.what) ?? flag.what),
    where: few ? told.join('; ') : t('watch_many',
      { count: where.length, range: range(values, 1), unit: flag.unit }),
    limit: num(flag.threshold, 1),
    unit: flag.unit,
    source: translated('flags', flag.source) ?? flag.source,
    status: word(flag.status),
  });
  return few ? sentence : [sentence,
    h('details', {}, h('summary', {}, t('watch_places')), told.join('; '))];
}

function sliceRemarks(tooth, slice) {
  const found = (slice?.openings ?? []).map((opening) => capital(t('watch_opening', {
    tooth,
    side: word(opening.side),
    kind: word(opening.kind),
    from: week(7 * opening.first_week),
    to: week(7 * opening.last_week),
    low: num(opening.from_below_crest_mm, 1),
    high: num(opening.to_below_crest_mm, 1),
  })));
  if (slice?.stopped) found.push(capital(t('watch_stopped', { tooth, why: slice.stopped })));
  return found;
}

function capital(text) {
  return text.charAt(0).toUpperCase() + text.slice(1);
}

function probeWords(found, sides) {
  if (found === null) return t('probe_nothing');
  const place = found.depth === undefined ? '' : t(found.depth >= 0 ? 'probe_below' : 'probe_above',
    { depth: num(Math.abs(found.depth), 1), side: word(found.x >= 0 ? sides[0] : sides[1]) });
  const zones = { '-1': 'compression', 0: 'neutral', 1: 'tension', 2: 'overload' };
  return t(found.key, {
    value: num(found.value, found.digits),
    across: num(found.across, 4),
    along: num(found.along, 4),
    zone: found.zone === undefined || found.zone === null ? '' : word(zones[found.zone]),
    tooth: found.tooth ?? '',
    place,
  });
}
