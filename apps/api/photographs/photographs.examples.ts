/** Worked example of the API description, sent to a running server by a test: a grey PNG of one pixel. */
export const NEW_PHOTOGRAPH_EXAMPLE = {
  subject: 'filter-cartridge',
  stage: 'before',
  caption: 'As it came out',
  data: 'iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAAAAAA6fptVAAAACklEQVR4nGNoAAAAggCBd81ytgAAAABJRU5ErkJggg==',
};
