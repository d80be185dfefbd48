const codeOf = (error: object): unknown => ('code' in error ? error.code : undefined);

/**
 * An error with its place, and of its cause only which it was. What a database says of a refused row holds the row (`detail` of a broken check), and
 * the words of a cause would be appended to the message.
 */
const writtenError = (error: unknown) => {
  if (!(error instanceof Error)) return { type: typeof error, message: '', stack: '' };
  const { name, message, stack = '', cause } = error;
  const from = cause instanceof Error ? { cause: { type: cause.name, code: codeOf(cause) } } : {};
  return { type: name, message, stack, code: codeOf(error), ...from };
};

/** One JSON object a line. What opens doors, and what the database said, is not written down. */
export const loggerOptions = (level: string) => ({
  level,
  redact: ['req.headers.authorization', 'req.headers.cookie'],
  serializers: { err: writtenError },
  base: { service: 'api' },
});
