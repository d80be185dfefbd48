/**
 * Every page of the console: a section's part of the address, and the name under which the list beside the page leads there; null where only a figure or
 * a list does. Each section draws a page for each of these (`Record<keyof …>`), and the browser tests visit each of them.
 */
export const PLACES = {
  bay: {
    name: 'The bay',
    parts: { '': null, 'case/:id': null, 'vehicle/:id': null, offer: null },
  },
  recurrences: {
    name: 'Recurrences',
    parts: {
      '': 'What comes back',
      grouped: 'Told apart',
      patterns: 'One fault after another',
      watches: 'What is new',
      shops: 'Shops',
      records: 'Evidence',
      charge: 'Charge',
      refrigerant: 'Refrigerant',
      stock: 'Stock',
      costs: 'Costs of returns',
      policies: 'Policies',
      month: 'The month',
      line: null,
      repairs: null,
      cases: null,
    },
  },
  feeds: {
    name: 'Feeds',
    parts: {
      '': 'Push a case',
      imports: 'Imports',
      mappings: 'Mappings',
      webhooks: 'Webhooks',
      keys: 'Keys and their use',
      trail: 'Who did what',
      'imports/:id': null,
      'webhooks/:id': null,
    },
  },
  settings: {
    name: 'Settings',
    parts: {
      '': 'Shops',
      platforms: 'Platforms',
      members: 'Members',
      returns: 'What counts as a return',
      leaving: 'Export and deletion',
      engine: 'The engine',
      'shops/:id': null,
      'platforms/:id': null,
    },
  },
} as const;

export type SectionName = keyof typeof PLACES;
export type PartOf<Section extends SectionName> = keyof (typeof PLACES)[Section]['parts'] & string;

/** What of an address names a page: of `/feeds/imports/0193…` the pattern `imports/:id` in `feeds`. Null where there is no such page. */
export function placeOf(path: string): { readonly section: SectionName; readonly part: string; readonly id: string } | null {
  const [, section = '', first = '', id = '', ...beyond] = path.split('/');
  if (!Object.hasOwn(PLACES, section) || beyond.length > 0) return null;
  return { section: section as SectionName, part: id === '' ? first : `${first}/:id`, id };
}
