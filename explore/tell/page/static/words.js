// Small things about words that several parts of the page need.

export const lower = (words) => words.slice(0, 1).toLowerCase() + words.slice(1);
export const upper = (words) => words.slice(0, 1).toUpperCase() + words.slice(1);

// A sentence of the run with its {slots} filled.
export const filled = (sentence, words) => sentence.replace(/\{(\w+)\}/g, (_, name) => words[name]);

export const LETTERS = ["A", "B", "C", "D"]; // of the shortlist, as many as it holds
export const MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split(" ");
