import type { NewRepair, Policy, Warning } from '#libs/contracts/index.js';

/** Policies that a repair does not follow, as warnings of its case. The repair is recorded all the same: what was done was done. */
export function brokenPolicies({ action, fault }: Pick<NewRepair, 'action' | 'fault'>, policies: readonly Policy[]): Warning[] {
  if (action === 'no-repair') return [];
  return policies
    .filter((policy) => policy.fault === fault && (policy.action === action) === (policy.rule === 'forbid'))
    .map((policy) => ({
      pointer: '/action',
      code: 'policy-not-followed',
      detail:
        policy.rule === 'forbid'
          ? `Since ${policy.since}, ${action} is not to be done for ${fault} on this platform.${policy.note === null ? '' : ` ${policy.note}`}`
          : `Since ${policy.since}, ${policy.action} is to be done for ${fault} on this platform, not ${action}.${policy.note === null ? '' : ` ${policy.note}`}`,
      remedy: 'Say in the note of the repair why it was done otherwise, or correct what was recorded.',
    }));
}
