/** The engine speaks the trade's words as the vocabulary defines them. */
export * from '#libs/vocabulary/index.js';
