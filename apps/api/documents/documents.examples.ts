export const NEW_TRUSTED_DOCUMENT_EXAMPLE = {
  query: 'query OpenCases($after: String) { cases(first: 50, after: $after) { data { id complaint } next } }',
};
