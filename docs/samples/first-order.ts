import createClient from 'openapi-fetch';
import type { paths } from './api.js';

const { COOLBACK_URL = 'http://127.0.0.1:4280', COOLBACK_KEY = '' } = process.env;
const coolback = createClient<paths>({ baseUrl: COOLBACK_URL, headers: { authorization: `Bearer ${COOLBACK_KEY}` } });
const { data, error } = await coolback.POST('/v1/cases', {
  params: { header: { 'Idempotency-Key': 'order-7001-1' } },
  body: {
    shopCode: 'harbour-road',
    vehicle: { plate: 'HB 7001' },
    complaint: 'cools-poorly',
    source: { system: 'my-orders', reference: '7001', revision: 1 },
  },
});
console.log(data?.id ?? error?.errors);
