-- What quality is measured by stands in narrow columns beside the answer; the answer itself is text that nobody searches.

-- AlterTable
ALTER TABLE "diagnosis" ADD COLUMN     "blind" BOOLEAN NOT NULL DEFAULT false,
ADD COLUMN     "codes" TEXT[],
ADD COLUMN     "observation_set" TEXT,
ADD COLUMN     "probabilities" DOUBLE PRECISION[],
ADD COLUMN     "shown" BOOLEAN NOT NULL DEFAULT true,
ADD COLUMN     "status" TEXT,
ALTER COLUMN "result" SET DATA TYPE JSON;

-- Proved cases of a platform, newest first: what the engine's start values are shrunk towards. A partial index is not modelled by Prisma.
CREATE INDEX "shop_case_proved_on_platform_idx" ON "shop_case"("org_id", "platform_id", "opened_at" DESC) WHERE cardinality(proved_faults) > 0;
