// What things are called. The server writes these words into the page, from the catalogue that
// the reports take theirs from.

/**
 * positions: of each its name, the words for a clear loss and gain and how each looks (of
 * some positions less is no loss), and what a change is called. All others: the name of each.
 */
export const { positions, angles, verdicts, grades, phases, tempos, pointsTo } = JSON.parse(
  document.body.dataset.words,
);
