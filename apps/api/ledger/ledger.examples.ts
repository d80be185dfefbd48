/** Worked examples of the API description, each sent to a running server by a test; the shop stands for one of the organisation's own. */
const SHOP = '0197a2b4-7c00-7000-8000-000000000001';
export const NEW_MACHINE_EXAMPLE = {
  shopId: SHOP,
  name: 'Machine at bay 2',
  refrigerant: 'R-134a',
  scaleErrorG: 10,
  checkedOn: '2026-03-02',
};
export const MACHINE_PATCH_EXAMPLE = { scaleErrorG: 8, checkedOn: '2026-09-01' };
export const NEW_CYLINDER_EXAMPLE = { shopId: SHOP, label: 'C-17', refrigerant: 'R-134a', content: 'new', capacityG: 12000 };
export const CYLINDER_PATCH_EXAMPLE = { retiredOn: '2026-10-01' };
export const NEW_ENTRY_EXAMPLE = {
  shopId: SHOP,
  kind: 'purchase',
  refrigerant: 'R-134a',
  massG: 12000,
  day: '2026-05-04',
  document: 'INV-2218',
};
export const ENTRY_PATCH_EXAMPLE = { massG: 11800, note: 'The invoice said 12 kg, the cylinder holds 11.8 kg.' };
