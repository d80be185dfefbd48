/** Version of the engine's answer; every stored diagnosis names it. */
export const ENGINE_VERSION = 'engine-1';
