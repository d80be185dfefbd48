import { createContext } from 'react';

/** Who types at a device that several people use; null where a tab has a key of its own. What is typed belongs to that person alone. */
export const Typist = createContext<string | null>(null);
