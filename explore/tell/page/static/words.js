// Small things about words that several parts of the page need.

export const lower = (words) => words.slice(0, 1).toLowerCase() + words.slice(1);
export const upper = (words) => words.slice(0, 1).toUpperCase() + words.slice(1);
