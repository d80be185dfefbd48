import { type DynamicModule, Module } from '@nestjs/common';
import { APP_FILTER, APP_GUARD, APP_PIPE } from '@nestjs/core';
import { GraphQLModule } from '@nestjs/graphql';
import { MercuriusDriver, type MercuriusDriverConfig } from '@nestjs/mercurius';
import type { GraphQLSchema } from 'graphql';
import { Casebook } from '#libs/casebook/index.js';
import type { Pool } from '#libs/database/index.js';
import { AccessController } from './access/access.controller.js';
import { AccessResolver } from './access/access.resolver.js';
import { SessionsController } from './access/sessions.controller.js';
import { SessionsResolver } from './access/sessions.resolver.js';
import { CasesController } from './cases/cases.controller.js';
import { CasesResolver } from './cases/cases.resolver.js';
import { CycleController } from './diagnosis/cycle.controller.js';
import { CycleResolver } from './diagnosis/cycle.resolver.js';
import { DiagnosisController } from './diagnosis/diagnosis.controller.js';
import { DiagnosisResolver } from './diagnosis/diagnosis.resolver.js';
import { ExpectationController } from './diagnosis/expectation.controller.js';
import { ExpectationResolver } from './diagnosis/expectation.resolver.js';
import { QualityController } from './diagnosis/quality.controller.js';
import { QualityResolver } from './diagnosis/quality.resolver.js';
import { RediagnosisController } from './diagnosis/rediagnosis.controller.js';
import { RediagnosisResolver } from './diagnosis/rediagnosis.resolver.js';
import { DocumentsController } from './documents/documents.controller.js';
import { DocumentsResolver } from './documents/documents.resolver.js';
import { EventsController } from './events/events.controller.js';
import { WebhooksController } from './events/webhooks.controller.js';
import { WebhooksResolver } from './events/webhooks.resolver.js';
import { graphErrors } from './graphql/context.js';
import { Documents } from './graphql/documents.js';
import { resolveDerived } from './graphql/relations.js';
import { CallerGuard } from './http/caller.guard.js';
import { HealthController, POOL, Readiness } from './http/health.controller.js';
import { Metrics } from './http/metrics.js';
import { ProblemFilter } from './http/problem.filter.js';
import { PUBLIC_URL } from './http/public-url.js';
import { RateLimit } from './http/rate-limit.js';
import { SchemaPipe } from './http/schema.pipe.js';
import { ImportsController } from './imports/imports.controller.js';
import { ImportsResolver } from './imports/imports.resolver.js';
import { LeavingController } from './leaving/leaving.controller.js';
import { LeavingResolver } from './leaving/leaving.resolver.js';
import { TablesController } from './leaving/tables.controller.js';
import { LedgerController } from './ledger/ledger.controller.js';
import { LedgerResolver } from './ledger/ledger.resolver.js';
import { NodesResolver } from './nodes/nodes.resolver.js';
import { HoldingController } from './outcomes/holding.controller.js';
import { HoldingResolver } from './outcomes/holding.resolver.js';
import { OutcomeRulesController } from './outcomes/outcome-rules.controller.js';
import { OutcomeRulesResolver } from './outcomes/outcome-rules.resolver.js';
import { OutcomesController } from './outcomes/outcomes.controller.js';
import { OutcomesResolver } from './outcomes/outcomes.resolver.js';
import { PatternsController } from './outcomes/patterns.controller.js';
import { PatternsResolver } from './outcomes/patterns.resolver.js';
import { RebuildController } from './outcomes/rebuild.controller.js';
import { RebuildResolver } from './outcomes/rebuild.resolver.js';
import { ShopsReviewController } from './outcomes/shops-review.controller.js';
import { ShopsReviewResolver } from './outcomes/shops-review.resolver.js';
import { WatchesController } from './outcomes/watches.controller.js';
import { WatchesResolver } from './outcomes/watches.resolver.js';
import { PhotographsController } from './photographs/photographs.controller.js';
import { PhotographsResolver } from './photographs/photographs.resolver.js';
import { PlatformsController } from './platforms/platforms.controller.js';
import { PlatformsResolver } from './platforms/platforms.resolver.js';
import { PoliciesController } from './policies/policies.controller.js';
import { PoliciesResolver } from './policies/policies.resolver.js';
import { ShopsController } from './shops/shops.controller.js';
import { ShopsResolver } from './shops/shops.resolver.js';
import { TasksController } from './tasks/tasks.controller.js';
import { TasksResolver } from './tasks/tasks.resolver.js';
import { VehiclesController } from './vehicles/vehicles.controller.js';
import { VehiclesResolver } from './vehicles/vehicles.resolver.js';

export interface ApiParts {
  readonly casebook: Casebook;
  readonly pool: Pool;
  readonly ratePerMinute: number;
  /** Address under which the world reaches this server; null where it is not told. */
  readonly publicUrl?: string | null;
  /** Where weaknesses are reported: a `mailto:`, `https:` or `tel:` address (RFC 9116). */
  readonly securityContact?: string | null;
  /** How often the use of keys is written down, ms; only when the server ends while left out. */
  readonly usageEveryMs?: number;
  /** Whether what similar cases look through is read before the first question about them. */
  readonly readsAhead?: boolean;
  /** Where the embedded database keeps its data; null or left out where it lies elsewhere. */
  readonly dataDirectory?: string | null;
}

@Module({})
export class ApiModule {
  static over({ casebook, pool, ratePerMinute, publicUrl = null, dataDirectory = null }: ApiParts): DynamicModule {
    const rateLimit = new RateLimit(ratePerMinute);
    let built: GraphQLSchema | null = null;
    const documents = new Documents(() => {
      if (!built) throw new Error('the schema is not built yet');
      return built;
    });
    return {
      module: ApiModule,
      imports: [
        GraphQLModule.forRoot<MercuriusDriverConfig>({
          driver: MercuriusDriver,
          autoSchemaFile: true,
          sortSchema: true,
          path: '/graphql',
          jit: 1,
          // The address is ours (`graphql/route.ts`): what it takes and refuses is judged there.
          routes: false,
          graphiql: false,
          errorFormatter: graphErrors,
          transformSchema: (schema) => {
            resolveDerived(schema);
            built = schema;
            return schema;
          },
        }),
      ],
      controllers: [
        AccessController,
        SessionsController,
        ShopsController,
        PlatformsController,
        VehiclesController,
        CasesController,
        PhotographsController,
        DiagnosisController,
        CycleController,
        QualityController,
        ExpectationController,
        RediagnosisController,
        DocumentsController,
        OutcomesController,
        HoldingController,
        LedgerController,
        PatternsController,
        ShopsReviewController,
        WatchesController,
        OutcomeRulesController,
        RebuildController,
        PoliciesController,
        TasksController,
        ImportsController,
        WebhooksController,
        EventsController,
        LeavingController,
        TablesController,
        HealthController,
      ],
      providers: [
        { provide: Casebook, useValue: casebook },
        { provide: POOL, useValue: pool },
        { provide: PUBLIC_URL, useValue: publicUrl },
        { provide: Documents, useValue: documents },
        { provide: RateLimit, useValue: rateLimit },
        { provide: Readiness, useValue: new Readiness(dataDirectory) },
        { provide: Metrics, useValue: new Metrics(pool) },
        { provide: APP_FILTER, useClass: ProblemFilter },
        { provide: APP_GUARD, useClass: CallerGuard },
        { provide: APP_PIPE, useClass: SchemaPipe },
        AccessResolver,
        SessionsResolver,
        ShopsResolver,
        PlatformsResolver,
        VehiclesResolver,
        CasesResolver,
        PhotographsResolver,
        DiagnosisResolver,
        CycleResolver,
        QualityResolver,
        ExpectationResolver,
        RediagnosisResolver,
        DocumentsResolver,
        OutcomesResolver,
        HoldingResolver,
        LedgerResolver,
        PatternsResolver,
        ShopsReviewResolver,
        WatchesResolver,
        OutcomeRulesResolver,
        RebuildResolver,
        PoliciesResolver,
        TasksResolver,
        ImportsResolver,
        WebhooksResolver,
        LeavingResolver,
        NodesResolver,
      ],
    };
  }
}
