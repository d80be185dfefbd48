/** Worked examples of the API description, each sent to a running server by a test. */
export const NEW_SHOP_EXAMPLE = {
  code: 'harbour-road',
  name: 'Harbour Road',
  elevationM: 12,
  timeZone: 'Europe/Madrid',
  normals: [
    { meanC: 9.8, sdC: 3.1 },
    { meanC: 10.6, sdC: 3.2 },
    { meanC: 12.9, sdC: 3.3 },
    { meanC: 15.1, sdC: 3.2 },
    { meanC: 18.6, sdC: 3.0 },
    { meanC: 22.8, sdC: 2.8 },
    { meanC: 25.9, sdC: 2.4 },
    { meanC: 26.1, sdC: 2.4 },
    { meanC: 22.9, sdC: 2.7 },
    { meanC: 18.7, sdC: 3.0 },
    { meanC: 13.6, sdC: 3.1 },
    { meanC: 10.5, sdC: 3.0 },
  ],
  currency: 'EUR',
  labourRate: 52,
};
export const SHOP_PATCH_EXAMPLE = { name: 'Harbour Road 7', labourRate: 54 };
export const NEW_WEATHER_EXAMPLE = {
  days: [
    { day: '2026-07-01', meanC: 27.4 },
    { day: '2026-07-02', meanC: 28.9 },
  ],
};
