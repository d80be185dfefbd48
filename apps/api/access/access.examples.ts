/** Worked examples of the API description, each sent to a running server by a test. */
export const NEW_KEY_EXAMPLE = {
  name: 'Order system of the eastern shops',
  role: 'integrator',
  shopIds: null,
  expiresAt: '2099-12-31T23:59:59Z',
};
export const KEY_ROTATION_EXAMPLE = { overlapHours: 24 };
export const NEW_MEMBER_EXAMPLE = { name: 'A. Lindqvist', role: 'technician', shopIds: null };
export const MEMBER_PATCH_EXAMPLE = { role: 'director', active: true };
