"""A workbook of the old binary format, packed: no library of the project writes that format."""

from __future__ import annotations

import base64
import zlib

_PACKED = (
    r"""c-rk)TSyd982;wA7xS{33L3~FWNJ!?bS0fGrVpi<MMXrlx&zAIWc48<$TA;;pr@i2!5-?t>c#F*Z#@J?1z`|qJqAHk(1SYt=ieFI"""
    r"""-8OKcBxAl|{&UWM{{NeE&VMd5^J1!SX6#P+EYi>n1q-GZt|XmAx7RNCK=r06vUcjB+jOv^;Pp@-T^b(dJ$H*3ig?dL#%=W}N#H%*"""
    r"""$Iy?CSk&+@BX)5c0+MJ$6G;izNRy8;ZdDP>9+s<F-eSu~EO)TxBFiSSoso`WO7E!MV$I?sawXU0L-5{ZpSP@OKnb3SS$y`Al(5yX"""
    r"""Gu{^nuds>=H5cQcfVLS?BQDAXxQ-lPh)^Gi)CYqzD5hYK<D2ORzS^t$iQmyLuU-P_zo+WmztMXri0S&vvI-2tJjsh>6sxdT6*UTC"""
    r""";ouw$n&l9YrwSZ01_q4qHh)X~R@%pR$0Gf-s-uGn<=gj>S4&{fpiTT>Z^&QW7p<Yapv#B^;vt$y2YQWg*xx`#n>RFUBJXI-AL!{J"""
    r"""LRvT58^r?>TZu1aE6L*}mP;~-0?rrmLi15y=5Bm`+1}l$pJ2@}A0LTBX07NGOq>%Q<eU%tcmd6Dpq4$>vpmnNYdBxdvY2crt?DeX"""
    r"""GOZ(QbAfBCh^LY9N?(_hucrLy$Nl#zMnC8^l%HsuJzYHUMjt~Z9eP3X7uN{tq&n&96@mM@ol4e*^p0iOFPoD`_E~*1t&_9>^Bfe="""
    r"""c)+rdxp%1+GFyl-NtEpIOO#|PDT^hAO6p=srIKbb3mY|!Sz%@oqsP>Gg_&KvwcZ>S%nFUV!knMZ=o^nenAQc8nt@48VN#hXCy6Ox"""
    r"""BbeM)d$bHJS_+HCEct0H8nbvT7FPxqR|<=ZS&GtFT+HINSlk&{+$k(>W+_b@8#lAGPJWqxeQH{7mWwbc0z-$-PvpRX0|yQqIB?+L"""
    r"""pM!X{l=*W3{354WFYa#Zzs@|}3(jwn{}x?{(KSdPm3t7SG>)OH=1(a!$>x%l=wtsc6gW&zk0XR`ZbvBV`AZ*OQgVNm?CAS*ODNmt"""
    r"""FJ#lszx@0kUuFa*"""
)


def old_workbook() -> bytes:
    """Return a sheet with a label for the vessel and five readings: two plain, a fraction, a reason, a limit."""
    return zlib.decompress(base64.b85decode(_PACKED))
