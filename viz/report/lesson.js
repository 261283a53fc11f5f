// What is said at a time, and the lesson: aim, free body, captions as buttons, question.

function lessonOf(run) {
  return run.summary.scenario.lesson ?? null;
}

// Day from which each caption holds, its text and the case it speaks of, if of one: the lesson's
// own, or what happens.
function captionsOf(run, index) {
  const own = lessonOf(run)?.caption ?? [];
  if (own.length) return run.captions.map(([day, text], k) => [day, text, own[k].case ?? null]);
  const first = t(movedBy(run));
  const told = new Map([[0, []]]);
  for (const key of keysOf(run, index)) {
    if (!told.has(key.day)) told.set(key.day, []);
    told.get(key.day).push(`${capital(keyWords(run, key))}.`);
  }
  told.get(0).push(first);
  return [...told].sort((a, b) => a[0] - b[0])
    .map(([day, texts]) => [day, [...new Set(texts)].join(' '), null]);
}

// What moves the teeth at first.
function movedBy(run) {
  if (!run.wires.length) return 'caption_force';
  const pulled = run.keys.some((key) => key.kind === 'elastics' && key.day === 0);
  return pulled ? 'caption_pull' : 'caption_wire';
}

// What is said of a case that may not be the one shown.
function captionText(run, [, text, name]) {
  const shown = run.cases[state.cases[run.index]].name;
  return name === null || name === shown ? text : t('caption_about', { case: name, text });
}

// Index of the caption that holds at a day; -1 before the first.
function captionAt(captions, day) {
  return captions.findLastIndex(([from]) => from <= day + 1e-9);
}

function showCaptions() {
  for (const run of runs) {
    const captions = captionsOf(run, state.cases[run.index]);
    const now = captionAt(captions, dayOf(state.step));
    const place = document.getElementById(`caption-${run.index}`);
    const text = now < 0 ? '' : captionText(run, captions[now]);
    // a text that stays is not spoken again
    if (place.textContent !== text) place.textContent = text;
    document.getElementById(`at-once-${run.index}`).textContent = dayOf(state.step) === 0
      ? t('at_once') : '';
    document.querySelectorAll(`#lesson .of-${run.index}`).forEach((button, k) => {
      if (k === now) button.setAttribute('aria-current', 'step');
      else button.removeAttribute('aria-current');
    });
  }
}

// Show the week of a caption, and the case it speaks of.
function toWeek(run, [day, , name]) {
  const index = run.cases.findIndex((one) => one.name === name);
  if (index >= 0 && index !== state.cases[run.index]) chooseCase(run, index);
  jump(day);
  document.getElementById('weeks').scrollIntoView();
  document.getElementById('day').focus({ preventScroll: true });
}

function captionButtons(run) {
  const captions = captionsOf(run, state.cases[run.index]);
  return h('ol', { class: 'told' }, captions.map((told) => h('li', {},
    h('button', {
      type: 'button', class: `told-at of-${run.index}`, onclick: () => toWeek(run, told),
    }, h('b', {}, `${t('week')} ${week(told[0])}`), ` ${told[1]}`))));
}

function lessonSection() {
  if (!runs.some(lessonOf)) return null;
  return section('lesson', t('lesson'), columns((run) => {
    const lesson = lessonOf(run);
    if (lesson === null) return h('p', {}, t('lesson_none'));
    const part = (key, ...content) => [h(runs.length > 1 ? 'h4' : 'h3', {}, t(key)), ...content];
    return [
      part('lesson_aim', h('p', {}, lesson.aim)),
      FREE_BODY in run.pictures ? plate(run, FREE_BODY) : null,
      part('lesson_question', h('p', { class: 'question' }, lesson.question)),
      h('details', {
        class: 'answers-of', open: state.told.has(run.index), ontoggle: (event) => {
          if (event.target.open) state.told.add(run.index); else state.told.delete(run.index);
        },
      }, h('summary', {}, t('lesson_told')), captionButtons(run)),
    ];
  }));
}
