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
export const NEW_SESSION_EXAMPLE = { shared: true };
export const SIGN_IN_EXAMPLE = { memberId: '0197a2b4-7c00-7000-8000-00000000000f', pin: '4093' };
export const NEW_PIN_EXAMPLE = { pin: '4093' };
export const PIN_CHANGE_EXAMPLE = { currentPin: '4093', pin: '7218' };
export const NEW_SIGN_IN_SERVICE_EXAMPLE = { issuer: 'https://login.example.com' };
