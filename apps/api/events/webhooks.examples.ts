/** A worked example of the API description, sent to a running server by a test. */
export const NEW_WEBHOOK_EXAMPLE = { url: 'https://orders.example.com/coolback', kinds: ['case.returned', 'import.finished'] };
