/** Address under which the world reaches this server (`COOLBACK_PUBLIC_URL`), null where it is not told. */
export const PUBLIC_URL = Symbol('public url');
