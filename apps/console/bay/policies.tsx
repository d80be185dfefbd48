import { useQuery } from '@tanstack/react-query';
import { answer, server } from '../client/client.ts';
import type { FaultCode, Policy, RepairAction } from '../client/generated/api.ts';
import { day, inSentence, words } from '../shell/words.ts';

/** What the director forbids or requires on a platform, in force today. */
export function usePolicies(platformId: string | null) {
  return useQuery({
    queryKey: ['policies', platformId],
    enabled: platformId !== null,
    queryFn: () => answer(server.GET('/v1/policies', { params: { query: { platformId: platformId! } } })),
    select: ({ data }) => data.filter(({ since }) => since <= new Date().toISOString().slice(0, 10)),
  });
}

/** The policy an action breaks: forbidden itself, or another one is required for the fault. */
export function broken(policies: readonly Policy[], fault: FaultCode, action: RepairAction): Policy | null {
  const here = policies.filter((one) => one.fault === fault);
  return (
    here.find((one) => one.rule === 'forbid' && one.action === action) ??
    here.find((one) => one.rule === 'require' && one.action !== action) ??
    null
  );
}

export const policyText = ({ rule, action, since, note }: Policy): string =>
  `${rule === 'forbid' ? 'Not' : 'Only'} ${inSentence(action)} here, since ${day(since)}.${note ? ` ${note}` : ''}`;

/** The policies of a platform where the repair is chosen; the fault in question first. */
export function Policies({ policies, fault }: { readonly policies: readonly Policy[]; readonly fault: FaultCode | null }) {
  if (policies.length === 0) return null;
  const sorted = [...policies].sort((a, b) => Number(b.fault === fault) - Number(a.fault === fault));
  return (
    <div className="policies">
      <h3>The director’s policies for this platform</h3>
      <ul className="bullets">
        {sorted.map((policy) => (
          <li key={policy.id}>
            <strong>{words(policy.fault)}:</strong> {policyText(policy)}
          </li>
        ))}
      </ul>
    </div>
  );
}
