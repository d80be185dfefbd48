import { z } from 'zod';

/** What the API reads from its environment, once. */
const Environment = z.object({
  COOLBACK_HOST: z.string().default('127.0.0.1'),
  COOLBACK_PORT: z.coerce.number().int().min(0).max(65_535).default(4280),
  COOLBACK_POOL: z.coerce.number().int().min(1).max(200).default(10),
  COOLBACK_RATE_PER_MINUTE: z.coerce.number().int().min(1).max(1_000_000).default(6_000),
  COOLBACK_PUBLIC_URL: z.url({ protocol: /^https?$/ }).optional(),
  COOLBACK_SECURITY_CONTACT: z
    .string()
    .max(500)
    .regex(/^(?:mailto:|https:\/\/|tel:)[\x21-\x7e]+$/, 'must be a mailto:, https: or tel: address')
    .optional(),
  COOLBACK_LOG: z.enum(['silent', 'error', 'warn', 'info', 'debug']).default('info'),
});

export interface ApiConfig {
  readonly host: string;
  readonly port: number;
  readonly poolSize: number;
  readonly ratePerMinute: number;
  readonly publicUrl: string | null;
  readonly securityContact: string | null;
  readonly logLevel: 'silent' | 'error' | 'warn' | 'info' | 'debug';
}

/** @throws Error naming every variable that does not fit. */
export function readApiConfig(environment: Readonly<Record<string, string | undefined>>): ApiConfig {
  const parsed = Environment.safeParse(environment);
  if (!parsed.success) {
    throw new Error(parsed.error.issues.map((issue) => `${issue.path.join('.')}: ${issue.message}`).join('; '));
  }
  return Object.freeze({
    host: parsed.data.COOLBACK_HOST,
    port: parsed.data.COOLBACK_PORT,
    poolSize: parsed.data.COOLBACK_POOL,
    ratePerMinute: parsed.data.COOLBACK_RATE_PER_MINUTE,
    publicUrl: parsed.data.COOLBACK_PUBLIC_URL ?? null,
    securityContact: parsed.data.COOLBACK_SECURITY_CONTACT ?? null,
    logLevel: parsed.data.COOLBACK_LOG,
  });
}
