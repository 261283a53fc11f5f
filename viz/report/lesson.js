// What is said at a time, and the lesson: aim, free body, captions as buttons, question.

function lessonOf(run) {
  return run.summary.scenario.lesson ?? null;
}

// Day from which each caption of a case holds, and its text: the lesson's own, or what happens.
function captionsOf(run, index) {
  if (lessonOf(run)?.caption?.length) return run.captions;
  const first = t(run.wires.length ? 'caption_wire' : 'caption_force');
  const told = new Map([[0, []]]);
  for (const key of keysOf(run, index)) {
    if (!told.has(key.day)) told.set(key.day, []);
    told.get(key.day).push(`${capital(keyWords(run, key))}.`);
  }
  told.get(0).push(first);
  return [...told].sort((a, b) => a[0] - b[0])
    .map(([day, texts]) => [day, [...new Set(texts)].join(' ')]);
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
    const text = now < 0 ? '' : captions[now][1];
    // a text that stays is not spoken again
    if (place.textContent !== text) place.textContent = text;
    document.querySelectorAll(`#lesson .of-${run.index}`).forEach((button, k) => {
      if (k === now) button.setAttribute('aria-current', 'step');
      else button.removeAttribute('aria-current');
    });
  }
}

function toWeek(day) {
  jump(day);
  document.getElementById('weeks').scrollIntoView();
  document.getElementById('day').focus({ preventScroll: true });
}

function captionButtons(run) {
  const captions = captionsOf(run, state.cases[run.index]);
  return h('ol', { class: 'told' }, captions.map(([day, text]) => h('li', {},
    h('button', { type: 'button', class: `told-at of-${run.index}`, onclick: () => toWeek(day) },
      h('b', {}, `${t('week')} ${week(day)}`), ` ${text}`))));
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
      part('lesson_told', captionButtons(run)),
      part('lesson_question', h('p', { class: 'question' }, lesson.question)),
    ];
  }));
}
