/**
 * Text of a file as the database can keep it. What is wrong with a row may quote the row, and PostgreSQL keeps neither NUL nor lone surrogates: they
 * are shown as U+FFFD. The row itself is kept as it came, sealed.
 */
export const storable = (text: string): string => text.toWellFormed().replaceAll('\u0000', '\ufffd');
