/** Name of the worker's job that tries one delivery. */
export const DELIVER_JOB = 'webhooks.deliver';
