// The page's first screen: planned, shown, how sure, what to watch; one or two sentences each.

const LEAST_FORCE = 0.005; // N: below it a bracket has no force worth a word
const MOST_WIRES = 2; // named one by one
const MOST_VALUES = 6; // told one by one
const MOST_REMARKS = 3; // kinds of remarks named on the first screen

function span(days) {
  return days < 14 ? t('days', { n: short(days) }) : t('weeks_long', { n: week(days) });
}

function teethWords(numbers) {
  const distinct = [...new Set(numbers)];
  return distinct.length === 1 ? t('tooth', { tooth: distinct[0] })
    : t('teeth', { teeth: listed(distinct.map(String)) });
}

function range(values, digits = 2) {
  const ends = [Math.min(...values), Math.max(...values)].map((value) => num(value, digits));
  return ends[0] === ends[1] ? ends[0] : ends.join(` ${t('to')} `);
}

function bandWords(band) {
  const same = new Set(band.map((value) => num(value))).size === 1;
  return same ? t('band_same') : t('lead_band', { band: range(band) });
}

// Force on every bracket of some cases at the start, with the words of its direction.
function firstForces(cases) {
  return cases.flatMap((one) => one.teeth.map((tooth) => ({
    tooth,
    value: tooth.force_N.at(0),
    words: directionNames([0, 1, 2].map((k) => tooth.forces_N.at(0, k)), tooth.sides),
  }))).filter((found) => found.value >= LEAST_FORCE);
}

function leadWires(run) {
  const keys = run.keys.filter((key) => key.kind === 'wire');
  const named = keys.map((key) => t('lead_wire_at', {
    wire: wireWords(run, key.wire), week: week(key.day),
  }));
  if (keys.length === 1) return t('lead_wire', { wire: wireWords(run, keys[0].wire) });
  if (keys.length <= MOST_WIRES) return t('lead_wires', { wires: listed(named) });
  return t('lead_wires_many',
    { count: keys.length, first: named[0], last: named[named.length - 1] });
}

function leadForces(run) {
  const forces = firstForces(run.cases);
  if (!forces.length) return null;
  const words = listed([...new Set(forces.flatMap((found) => found.words))]);
  const sizes = forces.map((found) => found.value);
  const force = `${listedOrRange(sizes, 2)} N (${listedOrRange(sizes.map(grams), 0)} gf)`;
  return run.cases.length > 1
    ? t('lead_cases', { count: run.cases.length, force, words, ratio: leadRatios(run, forces) })
    : t('lead_force', { force, words });
}

function grams(newton) {
  return newton / GRAM_FORCE;
}

// Few values are told one by one, many by their range; the same ones once.
function listedOrRange(values, digits) {
  const distinct = [...new Set(values.map((value) => num(value, digits)))];
  return distinct.length <= MOST_VALUES ? listed(distinct) : range(values, digits);
}

// Moment over force of every case, in the plane in which its largest force mostly lies.
function leadRatios(run, forces) {
  const ratios = run.cases.map((one) => {
    const [first, ...others] = forces.filter((found) => one.teeth.includes(found.tooth));
    if (!first) return null;
    const { tooth } = others.reduce((best, found) => (found.value > best.value ? found : best), first);
    const [, labial, mesial] = [0, 1, 2].map((k) => Math.abs(tooth.forces_N.at(0, k)));
    return tooth.moment_to_force_mm.at(0, labial >= mesial ? 0 : 1);
  });
  if (ratios.includes(null)) return '';
  return t('lead_ratio', { ratios: listedOrRange(ratios, 1) });
}

function leadPulls(run) {
  const pulls = [...new Set((run.summary.elastics ?? []).map(pullName))];
  return pulls.length ? t('lead_pulls', { pulls: listed(pulls) }) : null;
}

function leadPlanned(run) {
  const teeth = run.cases[0].teeth.map((tooth) => tooth.number);
  return [
    t('lead_planned', { teeth: capital(teethWords(teeth)), time: span(7 * run.summary.weeks) }),
    run.wires.length ? leadWires(run) : null,
    run.summary.scenario.force?.length ? leadForces(run) : null,
    leadPulls(run),
  ];
}

// Crown movement of every tooth of every case at the end.
function movements(run) {
  return run.cases.flatMap((one, index) => one.teeth.map((tooth) => {
    const of = caseSummary(run, index)[String(tooth.number)];
    return {
      tooth,
      of,
      name: run.cases.length > 1 ? one.name : t('tooth', { tooth: tooth.number }),
      mid: of.crown_movement_band_mm.p50,
      band: Object.values(of.crown_movement_band_mm),
    };
  }));
}

function movedWords({ tooth, of, mid, band }) {
  const parts = ['extrusion', 'labial', 'mesial'].map((k) => of.crown_movement_mm[k]);
  return t('lead_moved', {
    mid: num(mid),
    band: bandWords(band),
    parts: listed(directionNames(parts, tooth.sides)) || t('still'),
    kind: movementWords(of.movement_type, tooth),
  });
}

function leadShown(run, index) {
  const found = movements(run);
  const most = found.reduce((best, one) => (one.mid > best.mid ? one : best));
  const moved = found.length === 1 ? [capital(t('lead_one', { name: most.name, moved: movedWords(most) }))]
    : [t(run.cases[0].teeth.length > 1 ? 'lead_many' : 'lead_many_cases',
      { range: range(found.map((one) => one.mid)) }),
      t('lead_most', { name: most.name, moved: movedWords(most) })];
  const line = run.cases[index].out_of_line;
  return [...moved, line
    ? t('lead_line', { start: num(line.start_mm), end: num(line.end_mm) }) : null];
}

function leadSure(run) {
  const tips = movements(run).some(({ of }) => of.movement_type.includes('tipping'));
  return [t('lead_sure'), tips ? t('lead_tips') : null];
}

function leadFlags(run) {
  const kinds = new Map();
  run.cases.forEach((one, index) => {
    for (const [number, of] of Object.entries(caseSummary(run, index))) {
      for (const flag of of.flags) {
        if (!kinds.has(flag.what)) kinds.set(flag.what, { teeth: [], cases: new Set() });
        kinds.get(flag.what).teeth.push(number);
        kinds.get(flag.what).cases.add(index);
      }
    }
  });
  return [...kinds].map(([what, { teeth, cases }]) => {
    const plain = STRINGS[language].plain_flags[what];
    const text = filled(plain ?? translated('flags', what) ?? what, { teeth: teethWords(teeth) });
    return run.cases.length > 1 ? t('lead_remark_of', { text, some: cases.size, all: run.cases.length })
      : t('lead_remark', { text });
  });
}

// The first opening of each plate, of whatever case.
function leadOpenings(run) {
  const first = new Map();
  run.cases.forEach((one, index) => {
    for (const [number, of] of Object.entries(caseSummary(run, index))) {
      for (const { side, first_week: at } of of.slice?.openings ?? []) {
        const key = JSON.stringify([number, side]);
        if (!first.has(key) || at < first.get(key)) first.set(key, at);
      }
    }
  });
  return [...first].map(([key, at]) => {
    const [tooth, side] = JSON.parse(key);
    return t('lead_opening', { tooth, side: word(side), week: week(7 * at) });
  });
}

function leadWatch(run) {
  const all = [...leadOpenings(run), ...leadFlags(run)];
  if (!all.length) return [t('watch_nothing')];
  const rest = all.length - MOST_REMARKS;
  return [...all.slice(0, MOST_REMARKS), rest > 0 ? t('lead_more', { count: rest }) : null];
}

function leads(run, index) {
  const level = runs.length > 1 ? 'h4' : 'h3';
  const part = (key, texts) => h('div', { class: 'lead' }, h(level, {}, t(key)),
    h('p', {}, texts.filter((text) => text !== null).join(' ')));
  return h('div', { class: 'leads' }, part('planned', leadPlanned(run)),
    part('expected', leadShown(run, index)), part('sure', leadSure(run)),
    part('watch', leadWatch(run)));
}
