import { useSyncExternalStore } from 'react';

type Theme = 'as-device' | 'light' | 'dark';
const SLOT = 'coolback.theme';
const listeners = new Set<() => void>();

const read = (): Theme => {
  const kept = localStorage.getItem(SLOT);
  return kept === 'light' || kept === 'dark' ? kept : 'as-device';
};

/** Sets the page's colours before anything is drawn. */
export function applyTheme(): void {
  const theme = read();
  if (theme === 'as-device') delete document.documentElement.dataset['theme'];
  else document.documentElement.dataset['theme'] = theme;
}

function change(theme: Theme): void {
  if (theme === 'as-device') localStorage.removeItem(SLOT);
  else localStorage.setItem(SLOT, theme);
  applyTheme();
  for (const listener of listeners) listener();
}

export function ThemeSwitch() {
  const theme = useSyncExternalStore((listener) => {
    listeners.add(listener);
    return () => listeners.delete(listener);
  }, read);
  return (
    <label className="theme-switch">
      <span>Colours</span>
      <select value={theme} onChange={({ target }) => change(target.value as Theme)}>
        <option value="as-device">as the device</option>
        <option value="light">light</option>
        <option value="dark">dark</option>
      </select>
    </label>
  );
}
