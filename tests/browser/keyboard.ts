import type { Page } from 'playwright-core';

const MOST_TABS = 160;
const FOCUSED = `(() => {
  const at = document.activeElement;
  return (at?.getAttribute('aria-label') ?? at?.labels?.[0]?.textContent ?? at?.textContent ?? '').replace(/\\s+/g, ' ').trim();
})()`;

/** Hands on the keyboard and nowhere else. */
export interface Keyboard {
  /** Presses Tab until what has this name has the focus. */
  to(name: string | RegExp): Promise<void>;
  /** Goes to a field and types over what stands there. */
  type(name: string | RegExp, text: string): Promise<void>;
  /** Goes to a button or link and presses Enter. */
  press(name: string | RegExp): Promise<void>;
  /** Goes to a choice and moves down to an option. */
  choose(name: string | RegExp, option: string | RegExp): Promise<void>;
  /** Goes to a box and ticks it. */
  tick(name: string | RegExp): Promise<void>;
}

export function keyboardOf(page: Page): Keyboard {
  const fits = (wanted: string | RegExp, name: string) => (typeof wanted === 'string' ? name === wanted : wanted.test(name));
  const to = async (name: string | RegExp) => {
    const passed: string[] = [];
    for (let i = 0; i < MOST_TABS; i++) {
      const here = await page.evaluate<string>(FOCUSED);
      if (fits(name, here)) return;
      passed.push(here.slice(0, 40));
      await page.keyboard.press('Tab');
    }
    throw new Error(`no Tab leads to ${name}; passed ${[...new Set(passed)].join(' | ')}`);
  };
  return {
    to,
    type: async (name, text) => {
      await to(name);
      await page.keyboard.press('Control+A');
      await page.keyboard.type(text);
    },
    press: async (name) => {
      await to(name);
      await page.keyboard.press('Enter');
    },
    choose: async (name, option) => {
      await to(name);
      await page.keyboard.press('Home');
      const chosen = () => page.evaluate<string>('document.activeElement.selectedOptions[0].textContent');
      for (let i = 0; i < MOST_TABS; i++) {
        if (fits(option, await chosen())) return;
        await page.keyboard.press('ArrowDown');
      }
      throw new Error(`${name} has no option ${option}`);
    },
    tick: async (name) => {
      await to(name);
      await page.keyboard.press('Space');
    },
  };
}
