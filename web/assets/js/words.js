// What things are called. The server writes these words into the page, from the tables that
// the reports take theirs from.

/**
 * positions: of each its name, the words for a clear loss and gain and how each looks (of
 * some positions less is no loss), and what a change is called. angles: the name of each.
 * settled: when a landing is over.
 */
export const { positions, angles, settled } = JSON.parse(document.body.dataset.words);
