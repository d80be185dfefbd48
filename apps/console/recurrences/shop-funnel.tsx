import { scaleLinear } from 'd3-scale';
import type { ShopReview } from '../client/generated/api.ts';
import { AxisAcross, AxisUp } from '../plots/axes.tsx';
import { Figure } from '../plots/figure.tsx';
import { count, decimal, plural, said } from '../shell/words.ts';
import { shopName } from './shop-name.ts';

const WIDTH = 1080;
const LEFT = 66;
const RIGHT = 130;
const TOP = 16;
const PLOT = 300;

/** Own ratios over how much each shop could show: a shop within the funnel differs by no more than chance and the usual spread. */
export function ShopFunnel({ review }: { readonly review: ShopReview }) {
  const { funnel, phi, tau } = review;
  const shops = review.shops.filter(({ ratio, expected }) => ratio !== null && expected > 0);
  const most = Math.max(1, ...shops.map(({ expected }) => expected), ...funnel.map(({ expected }) => expected));
  const top = Math.max(2, ...shops.map(({ ratio }) => ratio!)) * 1.1;
  const x = scaleLinear()
    .domain([0, most])
    .range([LEFT, WIDTH - RIGHT]);
  const y = scaleLinear()
    .domain([0, top])
    .range([TOP + PLOT, TOP]);
  const held = (ratio: number) => Math.min(top, ratio);
  const edge = (of: 'low95' | 'high95' | 'low998' | 'high998') => funnel.map((limit) => `${x(limit.expected)} ${y(held(limit[of]))}`);
  const band = (low: 'low95' | 'low998', high: 'high95' | 'high998') => `M${edge(high).join('L')}L${edge(low).reverse().join('L')}Z`;
  return (
    <Figure
      title="More returns than the case mix explains?"
      words={`One mark a shop. Inner band: 95 of 100 shops would lie in it by chance and the usual spread; outer band: 998 of 1000. The spread between shops is ${decimal(phi)} times that of chance${tau > 0 ? `, a standard deviation of ${decimal(tau)} is allowed for` : ''}.`}
      file="shop-funnel"
      width={WIDTH}
      height={TOP + PLOT + 48}
      columns={[
        { name: 'shop' },
        { name: 'expected returns', show: decimal },
        { name: 'returns' },
        { name: 'ratio', show: decimal },
        { name: 'low', show: decimal },
        { name: 'high', show: decimal },
      ]}
      rows={shops.map((shop) => [shopName(shop), shop.expected, shop.observed, shop.ratio, shop.low, shop.high])}
      points={shops.map(
        (shop) =>
          `${shopName(shop)}: ${plural(shop.observed, 'return')} where ${decimal(shop.expected)} are explained, ${decimal(shop.ratio!)} times${shop.low === null || shop.high === null ? '' : ` (95 % ${decimal(shop.low)} to ${decimal(shop.high)})`}. ${said(shop.message)}`,
      )}
    >
      {(chosen, choose) => (
        <>
          <AxisUp
            scale={y}
            ticks={y.ticks(5)}
            show={decimal}
            label="returns over what is explained"
            x={LEFT}
            top={TOP}
            bottom={TOP + PLOT}
            to={WIDTH - RIGHT}
          />
          <path d={band('low998', 'high998')} fill="var(--edge)" fillOpacity="0.14" />
          <path d={band('low95', 'high95')} fill="var(--edge)" fillOpacity="0.2" />
          <line x1={LEFT} x2={WIDTH - RIGHT} y1={y(1)} y2={y(1)} stroke="var(--ink)" strokeWidth="1.5" strokeDasharray="4 3" />
          <text className="soft" x={WIDTH - RIGHT + 8} y={y(1) + 4}>
            as explained
          </text>
          {shops.map((shop, i) => (
            <g
              key={shop.shopId ?? i}
              className={shop.verdict === 'above' ? 'temporary' : 'permanent'}
              transform={`translate(${x(shop.expected)} ${y(shop.ratio!)})`}
              onPointerEnter={() => choose(i)}
            >
              {shop.low === null || shop.high === null ? null : (
                <line
                  y1={y(held(shop.low)) - y(shop.ratio!)}
                  y2={y(held(shop.high)) - y(shop.ratio!)}
                  stroke="currentColor"
                  strokeWidth="3"
                  strokeOpacity="0.4"
                />
              )}
              {shop.verdict === 'above' ? <path d="M0-8 8 0 0 8-8 0Z" fill="currentColor" /> : <circle r="6" fill="currentColor" />}
              {i === chosen ? <circle r="12" fill="none" stroke="var(--ink)" strokeWidth="2" /> : null}
              {i === chosen || shop.verdict === 'above' || shop.verdict === 'below' ? (
                <text x="15" y="4" fontWeight="600">
                  {shopName(shop)}
                </text>
              ) : null}
            </g>
          ))}
          <AxisAcross
            scale={x}
            ticks={x.ticks(6)}
            show={count}
            label="returns the case mix explains: the further right, the more a shop can show"
            from={LEFT}
            to={WIDTH - RIGHT}
            y={TOP + PLOT}
          />
        </>
      )}
    </Figure>
  );
}
